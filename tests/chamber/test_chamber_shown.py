"""What is in a jar, in words, tables and a chart: each number and each threshold."""

from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.chamber import present
from oxhue.optics.chamber.chamber import MOST_METALS, chamber
from oxhue.optics.chamber.plots import chart_pressures, plot_pressures
from oxhue.optics.errors import InputError, LimitError
from tests.kept_numbers import assert_as_kept, look_of

# A standard cubic centimetre a minute at 20 °C, by definition of the unit [mbar l/s].
SCCM = 1013.25e-3 / 60.0 * 293.15 / 273.15


@pytest.fixture(scope="module")
def found():
    return chamber(
        volume="3l", leak="2e-3mbar.l/s", pumping="20l/s", working_gas="argon",
        working_pressure="1e-2mbar", flush="3,5mbar", metal="Ti, Al,Ti",
    )  # fmt: skip


def table(state, head):
    """The table of a document whose columns begin so, as rows of words."""
    blocks = [one for one in state.document().blocks if hasattr(one, "head")]
    return next([list(map(str, row)) for row in one.rows] for one in blocks if one.head[0] == head)


@pytest.mark.parametrize(
    ("mbar", "words"),
    [(0.0099, "9.9 × 10⁻³ mbar"), (0.00996, "0.00996 mbar"), (0.5, "0.5 mbar"), (999.0, "999 mbar"),
     (1000.0, "1 × 10³ mbar"), (1013.25, "1 × 10³ mbar"), (0.00995, "1 × 10⁻² mbar")],
)  # fmt: skip
def test_pressures_in_words(mbar, words):
    assert present._mbar(mbar) == words


@pytest.mark.parametrize(
    ("ratio", "words"),
    [(0.0, "0"), (4.9e-5, "0"), (5e-5, "5e-05"), (0.0123, "0.012"), (1.98, "2")],
)
def test_atoms_in_words(ratio, words):
    assert present._atoms(ratio) == words


def test_traces_are_none():
    assert present._mbar_or_none(1e-12) == "none"
    assert present._mbar_or_none(2e-12) == "2 × 10⁻¹²"


@pytest.mark.parametrize(
    ("metal", "grey", "oxide", "nitride", "words"),
    [
        (0.8, 0.1, 0.1, 0.0, "stays metal"), (0.79, 0.11, 0.1, 0.0, "more likely metal"),
        (0.3, 0.4, 0.3, 0.0, "likely grey"), (0.1, 0.11, 0.79, 0.0, "more likely oxide"),
        (0.1, 0.1, 0.8, 0.0, "turns to oxide"), (0.1, 0.1, 0.8, 0.51, present._OUTCOMES[-1]),
        (0.9, 0.1, 0.0, 0.5, "stays metal"),
    ],
)  # fmt: skip
def test_what_a_metal_becomes(found, metal, grey, oxide, nitride, words):
    states = {"metal": metal, "grey": grey, "oxide": oxide}
    film = replace(found.films[0], states=states, nitride=nitride)
    assert present._become(film) == words


def test_each_metal_once_with_its_own_numbers(found):
    assert [film.flow.metal for film in found.films] == ["Ti", "Al"]
    for film in found.films:
        name = film.flow.metal
        assert found.oxygen_per_metal[name] == film.oxygen_per_metal
        assert found.oxygen_interval90[name] == film.oxygen_interval90
        assert found.nitrogen_per_metal[name] == film.nitrogen_per_metal
        assert found.states[name] == film.states
        assert found.nitride[name] == film.nitride
        assert found.verdicts[name] == film.verdict
    assert [row[0] for row in table(found, "")] == ["Ti", "Al"]


def test_a_row_of_a_metal_shows_what_there_is(found):
    film = replace(
        found.films[0], oxygen_per_metal=0.25, oxygen_interval90=(0.0, 0.3),
        nitrogen_per_metal=0.5, nitride=0.75, states={"metal": 0.6, "grey": 0.3, "oxide": 0.1},
    )  # fmt: skip
    bare = replace(film, oxygen_interval90=(0.0, 0.0), nitrogen_per_metal=0.0, nitride=0.0)
    _, rows = present._metal_table(replace(found, films=(film, bare)))
    states = ["60 %", "30 %", "10 %"]
    assert rows == [
        ["Ti", "0.25", "0–0.3", "0.5", *states, "75 %"], ["Ti", "0.25", "", "", *states, ""],
    ]  # fmt: skip


def test_metal_is_spread_over_the_half_space_of_its_source(found):
    """``flux = rate · density / molar mass · N_A``; Ti: 4.506 g/cm³ and 47.867 g/mol (CRC)."""
    flow = found.films[0].flow
    flux = 0.2e-7 * 4.506 / 47.867 * 6.02214076e23
    assert flow.flux_per_cm2_s == pytest.approx(flux, rel=5e-3)
    share = flow.flux_per_cm2_s / flow.atoms_per_s
    # From a point a square centimetre at 5 cm takes 1 / (4 π 25); from a short wire a little more.
    assert 1.0 < share * 4.0 * np.pi * 25.0 < 1.2
    assert flow.piece_cm2 == 10.0


def test_a_piece_never_takes_more_than_half_of_what_is_sent():
    near = chamber(pumping="20l/s", distance="5mm", metal="Al").films[0].flow
    share = near.flux_per_cm2_s / near.atoms_per_s
    assert near.piece_cm2 == pytest.approx(0.5 / share)
    assert near.piece_cm2 < 10.0


def test_shares_of_the_working_gas(found):
    assert found.working_share == pytest.approx(
        found.partial_mbar["Ar"] / sum(found.partial_mbar.values())
    )
    assert 0.9 < found.working_share < 1.0
    assert found.air_mbar == found.partial_mbar["N2"] + found.partial_mbar["O2"]
    without = chamber(leak="2e-3mbar.l/s", pumping="20l/s")
    assert without.working_share == 0.0
    assert without.feed_mbar_l_s is None
    assert without.flush is None


def test_inflow_of_a_stated_leak_and_of_nobody(found):
    flow = found.inflow
    assert (flow.known_from, flow.leak_mbar_l_s) == ("stated", 2e-3)
    assert flow.outgassing_mbar_l_s == pytest.approx(flow.total_mbar_l_s - 2e-3)
    # A litre at 1 mbar and 20 °C holds 100 Pa · 1e-3 m³ / (k · 293.15 K) molecules.
    per_litre = 0.1 / (1.380649e-23 * 293.15)
    assert flow.molecules_per_s == pytest.approx(per_litre * flow.total_mbar_l_s, rel=1e-6)
    usual = chamber(pumping="2l/s").inflow
    assert usual.outgassing_mbar_l_s == pytest.approx(usual.total_mbar_l_s - usual.leak_mbar_l_s)
    assert usual.outgassing_mbar_l_s > 0.0


def test_feed_in_both_units(found):
    [words] = present._gauge_words(found)
    assert f"({found.feed_mbar_l_s / SCCM:.2g} sccm)" in words
    assert "gauge shows" not in words  # an absolute gauge: nothing to correct
    near = replace(found, working_pressure_mbar=found.reading_mbar * 1.019)
    far = replace(found, working_pressure_mbar=found.reading_mbar * 1.021)
    assert "gauge shows" not in " ".join(present._gauge_words(near))
    assert "gauge shows" in " ".join(present._gauge_words(far))


def test_the_tube_is_named_from_half_the_speed_on(found):
    narrow = chamber(pumping="20l/s", tube="1m,8mm")
    [said] = present._pump_words(narrow)
    assert said.startswith("Of the pump's 20 l/s the tube lets ")
    assert present._pump_words(found) == ["The chamber is pumped with 20 l/s."]
    wide = chamber(pumping="2l/s", tube="10cm,40mm")
    assert present._pump_words(wide)[0].startswith("The chamber is pumped with ")


def test_what_limits_the_oxygen(found):
    film = found.films[0]
    for share, words in ((0.51, "too few"), (0.49, "as fast as it comes in")):
        left = {gas: share * value for gas, value in film.alone_mbar.items()}
        changed = replace(found, films=(replace(film, partial_mbar=left),))
        assert words in present._supply_words(changed)


def test_a_rise_test_that_contradicts_the_pump_is_told_from_half_as_much_again_on(found):
    rise = chamber(rise="5e-3mbar,5e-2mbar,60s", volume="3l", pumping="2l/s")
    first = rise.jar.rise.pressure_mbar[0]
    assert present._conflicts(replace(rise, held_mbar=1.49 * first)) == []
    [told] = present._conflicts(replace(rise, held_mbar=1.51 * first))
    needed = rise.inflow.total_mbar_l_s / first
    assert f"takes {needed:.2g} l/s" in str(told.lines[0])
    equal = replace(found, held_mbar=found.working_pressure_mbar)
    assert present._conflicts(equal) == []


def test_the_chart_of_pressures(found):
    figure = chart_pressures(found)
    assert tuple(figure.get_size_inches()) == (8.0, 4.8)
    ax = figure.axes[0]
    assert (ax.get_xscale(), ax.get_yscale()) == ("log", "log")
    history = found.history
    lines = {line.get_label(): line for line in ax.get_lines()}
    minutes = lines["argon"].get_xdata()
    np.testing.assert_allclose(minutes[1:], np.maximum(history.time_s[1:], 1.0) / 60.0)
    assert minutes[0] == 1.0 / 60.0
    total = np.sum(list(history.partial_mbar.values()), axis=0)
    lowest = min(line.get_ydata().min() for name, line in lines.items() if name[0] != "_")
    assert lowest >= 10.0 ** np.floor(np.log10(total.min()) - 5.0)
    begun = [start / 60.0 for start in history.phases.values() if start > 0.0]
    assert [line.get_xdata()[0] for name, line in lines.items() if name[0] == "_"] == begun
    words = [text.get_text().strip() for text in ax.texts]
    assert words == ["flush", "gas in", "metal"][-len(words) :]
    assert [text.get_position() for text in ax.texts] == [(start, 0.98) for start in begun]
    assert ax.get_xlim() == (minutes[0], minutes[-1])
    assert ax.get_title() == "Gas in the chamber; metal: Ti"
    assert ax.get_legend() is not None
    held = plot_pressures(chamber(pumping="2l/s", metal="Al"))
    assert held.get_title().endswith("metal: Al")
    assert held.get_xlabel() == "time since the pump was started [min]"


def test_the_chart_looks_as_it_did(found):
    assert_as_kept("chart-chamber", look_of(chart_pressures(found)))


def test_halves_belong_to_the_better_side(found):
    """A tube that passes just half of the pump's speed is no narrow one, half argon is argon."""
    tube = chamber(pumping="20l/s", tube="1m,8mm")
    half = replace(tube, pumping_l_s={**tube.pumping_l_s, "N2": 10.0})
    assert present._pump_words(half) == ["The chamber is pumped with 10 l/s."]
    assert "Of the pump's" in present._pump_words(replace(half, pumping_l_s={"N2": 9.99}))[0]
    gases = dict.fromkeys(found.partial_mbar, 0.0)
    gases |= {"Ar": 1.0, "N2": 0.5, "O2": 0.25, "H2O": 0.25}
    even = replace(found, partial_mbar=gases)
    assert even.working_share == 0.5
    film = found.films[0]
    held = replace(film, partial_mbar=film.partial_mbar | {"O2": 0.5 * film.alone_mbar["O2"]})
    assert "too few to take up the gas" in present._supply_words(replace(found, films=(held,)))
    assert present._gas_words(even).startswith("Argon at ")
    assert "let in" in " ".join(present._gauge_words(even))


def test_the_floor_of_the_chart_hides_traces_and_its_start_is_one_second(found):
    traces = {**found.history.partial_mbar}
    floor = 10.0 ** np.floor(np.log10(sum(traces.values()).min()) - 5.0)
    traces["H2"] = np.full_like(found.history.time_s, floor)
    history = replace(found.history, partial_mbar=traces)
    names = [line.get_label() for line in plot_pressures(replace(found, history=history)).lines]
    assert "hydrogen" not in names
    begun = replace(found.history, phases={"flush": 0.0, "metal": 0.6})
    ax = plot_pressures(replace(found, history=begun))
    assert [(text.get_text(), text.get_position()) for text in ax.texts] == [
        (" metal", (0.01, 0.98))
    ]
    assert ax.texts[0].get_rotation() == 90
    assert {one.get_text() for one in ax.get_xticklabels(minor=True)} == {""}


def test_limits_of_what_is_asked():
    assert MOST_METALS == 12  # stated in the guide
    with pytest.raises(LimitError, match=f"1 to {MOST_METALS} metals"):
        chamber(pumping="2l/s", metal=[f"M{i}" for i in range(MOST_METALS + 1)])
    with pytest.raises(InputError, match=r"`metal` cannot be 'C'"):
        chamber(pumping="2l/s", metal="C")
    for odd in ("Ti:Xx 50%", "Ti:", "TiO2:SiO2 50%"):  # no mixture, or of no metal
        with pytest.raises(InputError, match=f"`metal` cannot be '{odd}"):
            chamber(pumping="2l/s", metal=odd)


@pytest.mark.parametrize("blend", ["TiO2:Ti 50%", "Ti:C 20%", "Ti->SiO2"])
def test_the_metals_of_a_blend_meet_the_gas(blend):
    found = chamber(pumping="2l/s", leak="1e-3mbar.l/s", volume="3l", metal=blend)
    assert list(found.oxygen_per_metal) == ["Ti"]


JARS = {
    "base pressure": {"base_pressure": "1e-5mbar", "pumping": "2l/s", "metal": "Ti"},
    "nobody measured": {"pumping": "2l/s", "metal": "Ti,Al,Au"},
    "nitrogen": {"pumping": "20l/s", "leak": "1e-3mbar.l/s", "working_gas": "nitrogen",
                 "working_pressure": "1e-2mbar", "metal": "Ti,Cr", "source": "sputter"},
    "air": {"pumping": "2l/s", "working_gas": "air", "working_pressure": "1e-3mbar"},
    "too much": {"pumping": "2l/s", "leak": "5e-2mbar.l/s", "working_gas": "argon",
                 "working_pressure": "5e-3mbar", "metal": "Ti"},
    "two readings": {"pumping": "2l/s", "volume": "3l", "rise": "5e-3mbar,5e-2mbar,60s"},
    "three readings": {"pumping": "200l/s", "volume": "3l", "metal": "Al",
                       "rise": "1e-4mbar,5e-2mbar,60s,8e-2mbar,120s"},
    "narrow tube": {"pumping": "20l/s", "tube": "1m,8mm", "leak": "1e-4mbar.l/s", "metal": "Ag"},
    "ion gauge": {"pumping": "20l/s", "gauge": "ion", "working_gas": "argon", "metal": "Ti",
                  "working_pressure": "1e-3mbar", "flush": "3,5mbar", "volume": "3l"},
    "alloys": {"pumping": "2l/s", "leak": "1e-3mbar.l/s", "metal": "brass,Ti:Al 50%",
               "rate": "2nm/s", "distance": "12cm", "source": "boat", "plastic": True},
    "clean or not": {"pumping": "200l/s", "leak": "3e-3mbar.l/s", "source": "sputter",
                     "metal": "Ti", "working_gas": "argon", "working_pressure": "1e-2mbar",
                     "rate": "0.3nm/s"},
}  # fmt: skip


@pytest.mark.parametrize("jar", JARS)
def test_what_is_said_of_every_kind_of_jar(jar):
    """The whole of it: a sentence that came of another branch, or a number, would differ."""
    said = [" ".join(line.split()) for line in chamber(**JARS[jar]).summary().splitlines()]
    assert_as_kept(f"chamber-{jar.replace(' ', '-')}", said)
