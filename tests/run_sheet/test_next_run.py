"""What a sheet says to change at the next run: it must come true when that run is planned."""

from __future__ import annotations

import pytest

from oxhue.optics.errors import UnknownNameError
from oxhue.optics.run_sheet.run_sheet import run_sheet

JAR = {
    "leak": "1e-2mbar.l/s", "pumping": "2l/s", "volume": "3l",
    "working_gas": "argon", "working_pressure": "8e-3mbar",
}  # fmt: skip
SPUTTER = {"source": "sputter", "distance": "10cm"}
TITANIUM = "Ti 80nm / glass 1mm"


def first(stack=TITANIUM, setup=SPUTTER, **asked):
    return run_sheet(stack, setup, **asked).layers[0]


def remedy(step, words):
    (found,) = [one for one in step.remedies if one.do == words]
    return found


@pytest.mark.parametrize(
    ("words", "asked", "setup", "changed"),
    [
        ("deposit three times as fast", {"rate": "0.05nm/s"}, SPUTTER, {"rate": "0.15nm/s"}),
        ("find the leak and bring it down to a tenth", {"rate": "0.05nm/s"}, SPUTTER,
         {"leak": "1e-3mbar.l/s"}),
        ("take vinyl, tape and other plastic out of the chamber",
         {"rate": "0.2nm/s", "plastic": True, "leak": "1e-3mbar.l/s"}, SPUTTER,
         {"plastic": False}),
        # less leak is less gas on the way, so that less titanium leaves for the same rate
        ("find the leak and bring it down to a tenth",
         {"rate": "0.05nm/s", "working_gas": None, "working_pressure": None}, SPUTTER,
         {"leak": "1e-3mbar.l/s"}),
    ],
)  # fmt: skip
def test_a_change_that_is_told_comes_true_when_it_is_planned(words, asked, setup, changed):
    before = first(setup=setup, **{**JAR, **asked})
    told = remedy(before, words)
    after = first(setup=setup, **{**JAR, **asked, **changed})
    assert told.metal_before == before.states["metal"]
    assert told.metal_after == pytest.approx(after.states["metal"], abs=0.005)
    assert told.oxygen_after == pytest.approx(after.oxygen_per_metal, rel=0.02)


@pytest.mark.parametrize(
    "setup",
    [
        SPUTTER,
        {"source": "wire", "distance": "10cm", "wire": "Ti", "wire_diameter": "0.4mm",
         "wire_length": "150mm", "current": "5.2A"},
        {"source": "boat", "distance": "20cm"},
    ],
)  # fmt: skip
def test_half_the_distance_comes_true_whatever_the_source(setup):
    rate = {} if setup["source"] == "wire" else {"rate": "0.2nm/s"}
    gas = {"pressure": "4e-5mbar", "gas": "air", "volume": "5l"}
    before = first(setup=setup, **rate, **gas)
    told = remedy(before, "halve the distance to the source")
    near = setup | {"distance": f"{0.5 * float(setup['distance'][:-2]):g}cm"}
    if rate:
        quick = before.run.at_half_distance().rate_nm_s
        assert 2.0 < quick / before.rate_nm_s < 4.5
        rate = {"rate": f"{quick!r}nm/s"}
    after = first(setup=near, **rate, **gas)
    assert told.metal_after == pytest.approx(after.states["metal"], abs=0.005)


def test_what_the_source_or_the_piece_cannot_do_is_not_told():
    wire = {"source": "wire", "distance": "8cm", "wire": "Ti", "wire_diameter": "0.4mm",
            "wire_length": "150mm", "current": "5.2A"}  # fmt: skip
    slow = first(setup=wire, leak="2e-2mbar.l/s", pumping="2l/s")
    assert slow.states["metal"] < 0.9
    assert slow.limits.above_nm_s is None  # the wire melts before
    assert not any("as fast" in one.do for one in slow.remedies)
    plate = first("Ti 80nm / PET 1mm", rate="0.05nm/s", **JAR)
    assert plate.remedies
    assert not any("take vinyl" in one.do for one in plate.remedies)


def test_a_sure_metal_needs_no_change_and_trouble_is_answered_all_the_same():
    sure = {"rate": "1nm/s", "pressure": "1e-8mbar"}
    assert first(**sure).remedies == ()
    told = first(**sure, trouble=["peels", "golden"]).remedies
    assert any("grease" in one.do for one in told)
    assert any("leave out" in one.do for one in told)  # the gas of this run explains no gold
    with pytest.raises(UnknownNameError, match="`trouble`"):
        first(**sure, trouble="sad")


def test_of_two_layers_of_one_metal_the_first_is_told():
    sheet = run_sheet("Ti 30nm / SiO2 80nm / Ti 30nm / glass", SPUTTER, rate="0.05nm/s", **JAR)
    assert [bool(step.remedies) for step in sheet.layers] == [True, False, False]
    assert "What would change step 1" in sheet.summary()
    heat = "a hotter source is nearer to melting"
    assert heat not in sheet.summary()  # a sputter target does not melt


def test_a_base_pressure_is_held_by_a_pump_and_no_film_takes_more_than_that_lets_in():
    argon = {"working_gas": "argon", "working_pressure": "1e-2mbar", "rate": "0.3nm/s"}
    taken = first(base_pressure="1e-4mbar", **argon)
    held = first(pressure="1e-4mbar", **argon)
    assert held.states["metal"] < taken.states["metal"]
    assert (
        "taken, for its speed was not given"
        in run_sheet(TITANIUM, SPUTTER, base_pressure="1e-4mbar", **argon).summary()
    )
    slow = {speed: first(base_pressure="1e-4mbar", pumping=speed, **argon) for speed in
            ("2l/s", "50l/s")}  # fmt: skip
    for step, words in ((taken, "taken as some 20 l/s"), (held, "the worst case")):
        assert any(words in one for one in step.remarks)
        for speed, chance in step.limits.metal_if_pumped.items():
            known = slow[speed.replace(" ", "")].states["metal"]
            assert chance == pytest.approx(known, abs=1e-3)
    assert slow["50l/s"].limits is None or slow["50l/s"].limits.metal_if_pumped == {}


@pytest.mark.parametrize("metal", ["brass", "bronze", "stainless", "nichrome", "permalloy",
                                   "steel", "Ag", "In", "Sn", "Zn"])  # fmt: skip
def test_every_state_of_alloys_silver_and_indium_has_a_look(metal):
    step = first(f"{metal} 60nm / glass 1mm", rate="0.2nm/s", pressure="1e-3mbar", gas="air")
    assert set(step.states) <= set(step.witness)
    assert all(look is not None for look in step.witness.values())
