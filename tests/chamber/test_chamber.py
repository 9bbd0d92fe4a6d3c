"""What gas is in my jar? The answer, its words, and what it refuses."""

import json
import re

import numpy as np
import pytest

from oxhue.optics.chamber.chamber import USUAL_METALS, chamber
from oxhue.optics.chamber.plots import plot_pressures
from oxhue.optics.deposition.gases import GASES, gas_name
from oxhue.optics.errors import InputError, UnknownNameError

JAR = {
    "volume": "3l", "rise": "5e-3mbar,5e-2mbar,60s", "pumping": "2l/s", "tube": "30cm,16mm",
    "gauge": "pirani",
}  # fmt: skip
ARGON = {"flush": "3,5mbar", "working_gas": "argon", "working_pressure": "1e-2mbar"}


@pytest.fixture(scope="module")
def found():
    return chamber(**JAR, **ARGON)


def test_the_answer_holds_what_the_verb_promises(found):
    plain = json.loads(json.dumps(found.to_dict()))
    assert plain["kind"] == "chamber"
    assert plain["leak_mbar_l_s"] == pytest.approx(2.25e-3)
    assert set(plain["partial_mbar"]) == set(GASES)
    assert list(plain["oxygen_per_metal"]) == list(USUAL_METALS)
    assert {one["metal"] for one in plain["branches"]} == set(USUAL_METALS)
    for states in plain["states"].values():
        assert sum(states.values()) == pytest.approx(1.0)
    assert set(plain["history"]["partial_mbar"]) == set(GASES)


def test_a_pirani_gauge_shows_too_little_argon(found):
    assert (found.reading_mbar, found.working_pressure_mbar) == (1e-2, pytest.approx(1.7e-2))
    assert sum(found.partial_mbar.values()) == pytest.approx(1.7e-2)


def test_flushing_in_closed_form(found):
    flush = found.flush
    assert flush.share_left == pytest.approx((found.held_mbar / 5.0) ** 3)
    assert flush.left_mbar == pytest.approx(found.held_mbar * flush.share_left)
    assert flush.back_after_s == pytest.approx(3.0 * 3.0 / found.pumping_l_s["N2"], rel=0.05)
    stated = chamber(**JAR, flush="2,5mbar,0.5mbar").flush
    assert stated.share_left == pytest.approx(0.01)


def test_feed_leak_and_pump_agree(found):
    """What is let in and what leaks in leave through the pump."""
    speeds = found.films[0].pumping_l_s
    argon = found.partial_mbar["Ar"] * speeds["Ar"]
    own = 0.0092 * found.leak_mbar_l_s
    assert found.feed_mbar_l_s == pytest.approx(argon - own, rel=1e-3)


def test_words_say_the_numbers_of_the_answer(found):
    text = found.summary()
    assert str(found).startswith("Argon at 0.01")
    assert "two readings cannot separate" in text
    assert "pirani gauge shows 0.01 mbar, 0.017 mbar are there" in text
    assert "3 puffs from" in text
    assert len(repr(found)) < 200


def test_a_third_reading_tells_the_leak_from_the_walls():
    found = chamber(rise="1e-3mbar,3e-3mbar,30s,4e-3mbar,60s,5e-3mbar,120s", pumping="2l/s")
    assert found.inflow.outgassing_mbar_l_s is not None
    assert found.leak_mbar_l_s < 3.0 * 2e-3 / 30.0
    assert "off the walls, which dies away" in found.summary()


def test_more_gas_than_the_working_pressure_is_said():
    found = chamber(**(JAR | {"tube": "1m,8mm"}), **ARGON)
    text = " ".join(found.summary().split())
    assert str(found).startswith("More gas comes in than the working pressure allows")
    assert "no working gas can be added at that" in text
    assert "Check tube, pump and the first reading" in text
    assert "To hold it" not in text
    assert found.feed_mbar_l_s == 0.0


def test_a_jar_that_nobody_measured_says_so():
    found = chamber(pumping="2l/s")
    assert found.inflow.known_from == "usual"
    assert re.match(r"The pump holds .* mbar: .* of air and .* of water", str(found))
    assert "Nobody measured the leak" in found.summary()
    base = chamber(pumping="2l/s", base_pressure="1e-4mbar")
    assert base.leak_mbar_l_s is None
    assert base.held_mbar == pytest.approx(1e-4, rel=1e-6)


def test_a_pressure_of_no_gas_is_refused():
    """It was taken for argon."""
    with pytest.raises(InputError, match="`working_gas` is 'none'"):
        chamber(pumping="2l/s", working_gas="none", working_pressure="5e-3mbar")


def test_two_steady_states_of_a_target_are_told():
    found = chamber(leak="3e-3mbar.l/s", outgassing="0mbar.l/s", pumping="2l/s", source="sputter",
                    metal="Al", working_pressure="5e-2mbar", rate="0.15nm/s")  # fmt: skip
    clean, poisoned = found.branches
    assert (clean["start"], poisoned["start"]) == ("clean", "poisoned")
    assert poisoned["oxygen_per_metal"] > clean["oxygen_per_metal"]
    assert poisoned["rate_share"] < clean["rate_share"]
    assert "two steady states" in found.summary()


def test_headlines_of_other_gases():
    nitrogen = chamber(leak="1e-5mbar.l/s", pumping="20l/s", metal="Ti", working_gas="nitrogen",
                       working_pressure="1e-2mbar")  # fmt: skip
    assert str(nitrogen).startswith("Nitrogen at 0.00999 mbar")
    assert "golden nitride that conducts: Ti" in str(nitrogen)
    air = chamber(leak="1e-5mbar.l/s", pumping="20l/s", metal="Ti,Au", working_gas="air",
                  working_pressure="1e-2mbar")  # fmt: skip
    assert "stays metal: Au; turns to oxide: Ti" in str(air)


def test_the_chart_shows_each_gas_over_time(found):
    ax = plot_pressures(found)
    labels = [line.get_label() for line in ax.get_lines()]
    assert {gas_name(gas) for gas in ("Ar", "N2", "O2", "H2O")} <= set(labels)
    argon = ax.get_lines()[labels.index("argon")]
    np.testing.assert_allclose(argon.get_ydata(), found.history.partial_mbar["Ar"])
    assert "mbar" in ax.get_ylabel()
    assert found.plot() is not None


def test_a_jar_can_be_an_object_a_mapping_or_a_file(tmp_path, found):
    path = tmp_path / "jar.toml"
    path.write_text("\n".join(f'{name} = "{value}"' for name, value in JAR.items()), "utf-8")
    for jar in (path, JAR, found.jar):
        assert chamber(jar, **ARGON).oxygen_per_metal == found.oxygen_per_metal


@pytest.mark.parametrize(
    ("given", "named"),
    [
        ({}, "pumping"),
        ({"pumping": "2l/s", "working_gas": "argon"}, "working_pressure"),
        ({"pumping": "2l/s", "working_pressure": "5mbar", "gauge": "pirani"}, None),
        ({"pumping": "2l/s", "metal": "Xx"}, "metal"),
        ({"pumping": "2l/s", "metal": []}, "metal"),
        ({"pumping": "2l/s", "rate": "3"}, None),
        ({"pumping": "2l/s", "rate": None}, "rate"),
        ({"pumping": "2l/s", "source": "laser"}, None),
        ({"pumping": "2l/s", "volume": "3s"}, None),
        ({"pumping": "2l/s", "duration": "-3s"}, None),
    ],
)
def test_what_is_refused(given, named):
    with pytest.raises(InputError) as refused:
        chamber(**given)
    assert named is None or refused.value.parameter == named


def test_alloys_are_weighed_by_the_part_that_oxidises_first():
    found = chamber(pumping="2l/s", leak="1e-3mbar.l/s", metal="brass,zinc,stainless-steel,steel")
    assert list(found.verdicts) == ["brass", "Zn", "stainless", "steel"]
    brass, zinc, stainless, _ = (one.flow for one in found.films)
    assert (brass.alloy, brass.metal, zinc.alloy, stainless.metal) == ("brass", "Zn", "", "Cr")
    # atoms of 8.53 g/cm³ at 64 g/mol in place of zinc's 7.14 at 65.4
    assert brass.flux_per_cm2_s / zinc.flux_per_cm2_s == pytest.approx(1.22, rel=0.03)
    said = [str(line) for block in found.document().blocks for line in getattr(block, "lines", ())]
    assert any("brass is taken to hold gas as Zn does" in line for line in said)


def test_mixtures_are_weighed_by_both_parts_and_alloys_by_what_stands_for_them():
    found = chamber(pumping="2l/s", leak="1e-3mbar.l/s", metal="Ti:Al 50%,316,O1,bronze")
    assert list(found.verdicts) == ["Ti", "Al", "stainless", "steel", "bronze"]


@pytest.mark.parametrize(
    ("metal", "words"),
    [("graphite", "how it takes up gas is not known"), ("bras", "did you mean brass")],
)
def test_metals_that_cannot_be_weighed_are_named_with_what_can(metal, words):
    with pytest.raises(UnknownNameError, match=words) as refused:
        chamber(pumping="2l/s", metal=metal)
    assert refused.value.parameter == "metal"
