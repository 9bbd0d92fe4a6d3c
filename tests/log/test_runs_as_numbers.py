"""Runs as numbers, what they give to other verbs, and the next run: each way and each refusal."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.deposition.arrival import arrival
from oxhue.optics.deposition.gases import mean_free_path_cm
from oxhue.optics.deposition.geometry import Placement, Source
from oxhue.optics.deposition.jar import as_jar
from oxhue.optics.errors import InputError, OutOfRangeError
from oxhue.optics.log import kiln_runs, next_run
from oxhue.optics.log.evidence import LN_NM, piece_evidence
from oxhue.optics.log.jar.learnt import JarLearnt
from oxhue.optics.log.jar.present import next_words
from oxhue.optics.log.jar_posterior import learn_jar, melting_chance
from oxhue.optics.log.jar_prior import JarPrior
from oxhue.optics.log.kiln_runs import kiln_so_far, learn_kiln, pieces_of
from oxhue.optics.log.known import _kiln_range, known_for, learnt_jar
from oxhue.optics.log.planner import Settings, WantedMetal
from oxhue.optics.log.records import LoggedPiece, LoggedRun, LoggedSetup, Noted
from oxhue.optics.log.run_gas import (
    base_doubt,
    jar_of,
    leak_doubt,
    pressure_read,
    pressure_share,
    working_of,
)
from oxhue.optics.log.run_model import model_run, place_piece
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.tint.coupon_file import CouponRow

DONE = {
    "source": "wire", "metal": "Ti", "wire_diameter": "0.5mm", "wire_length": "200mm",
    "current": "6.4A", "time": "12min", "distance": "5cm",
}  # fmt: skip
FACTS = {"jar": {"volume": "3l", "pumping": "2l/s", "leak": "1e-3mbar.l/s"}}


def run_of(number=1, *, pieces=(), kind="chamber", base=DONE, **done):
    said = {name: text for name, text in {**base, **done}.items() if text is not None}
    return LoggedRun(number, "jar", 1, kind, "", "", said, "", tuple(pieces))


def model_of(**done):
    return model_run(run_of(**done), FACTS)


@pytest.mark.parametrize(
    ("done", "words", "parameter"),
    [
        ({"metal": None}, "run 1 does not say what was deposited", "metal"),
        ({"time": None}, "run 1 does not say how long it ran", "time"),
        ({"time": "0s"}, "run 1 took no time", "time"),
        ({"metal": "steel"}, "the density of steel is not known", "metal"),
        ({"metal": "TiO2"}, "how 'TiO2' takes gas is not known", None),
        ({"metal": "Sn"}, "the W wire carries Sn, whose rate its current does not tell", "rate"),
        ({"current": None}, "does not say how fast the source gave metal", "rate"),
        ({"source": "sputter"}, "does not say how fast", "rate"),
        ({"source": "boat"}, "does not say how fast", "rate"),
        ({"source": "boat", "charge": "0g"}, "the charge of run 1 must be above 0 g", "charge"),
        ({"wire": "W"}, "the W wire carries Ti, whose rate its current does not tell", "rate"),
    ],
)  # fmt: skip
def test_a_run_that_says_too_little_names_what_is_missing(done, words, parameter):
    with pytest.raises(InputError, match=words) as refused:
        model_of(**done)
    assert refused.value.parameter == parameter


def test_a_run_may_be_as_short_as_it_likes():
    assert model_of(time="0.5s").seconds == 0.5


def test_a_jar_whose_pump_nobody_gave_is_all_pressure():
    """Where the speed is not in doubt, all that is in doubt is the pressure."""
    for jar in (as_jar({"base_pressure": "1e-4mbar"}),
                as_jar({"base_pressure": "1e-4mbar", "pumping": "2l/s"})):  # fmt: skip
        assert pressure_share(jar) == 1.0
        assert leak_doubt(jar) == base_doubt()


def test_a_spectrum_of_a_piece_is_a_thickness_with_its_curve(monkeypatch):
    """Of two peaks, the mean and the deviation of what it says; never surer than a step of it."""
    nm, likelihood = np.linspace(0.0, 100.0, 101), np.zeros(101)
    row = CouponRow("run 1, dial", "kiln", None, "reflectance 400:0.1", None, None, None)
    monkeypatch.setattr(kiln_runs, "oxide_likelihood", lambda *_, **__: (nm, likelihood))
    for places, mean, sd in (((20, 40), 30.0, 10.0), ((33,), 33.0, 1.0)):
        likelihood[:] = 0.0
        likelihood[list(places)] = 4.0
        read = kiln_runs._read_curve(find_metal("Ti"), row, None)
        assert (read.thickness_nm, read.sd) == pytest.approx((mean, sd))
        assert read.text == f"spectrum, {mean:.3g} nm"
        assert read.curve[0] is nm
    told = replace(row, thickness_nm=50.0)
    assert kiln_runs._read_curve(find_metal("Ti"), told, None) is told


def test_a_measured_rate_is_what_the_piece_got():
    model = model_of(rate="0.2nm/s", current=None)
    mass, used = model.leaving(np.zeros(1), np.zeros(1))
    assert math.exp(mass[0] + model.ln_nm_per_g["piece"]) == pytest.approx(0.2 * 720.0)
    assert used.tolist() == [0.0]
    assert model.melted is None
    assert model.thinning_per_g == 0.0
    draws = learn_jar([], JarPrior(("wire Ti",), True), draws=7)
    assert melting_chance(model, draws.prior, draws.z, loss=np.zeros(7)).tolist() == [0.0] * 7


def test_a_sputter_head_gives_by_its_volts_and_amperes():
    one = model_of(source="sputter", volts="400V", current="0.1A")
    other = model_of(source="sputter", volts="400V", current="0.2A")
    assert np.ptp(one.ln_mass_g_s) == 0.0
    assert other.ln_mass_g_s[0] - one.ln_mass_g_s[0] == pytest.approx(math.log(2.0))
    assert math.isinf(one.ln_melting)
    assert one.key == "sputter Ti"


def test_a_charge_that_was_used_up_is_what_left():
    """120 mg of aluminium from a small boat, 15 cm below: m / (π r² ρ) in the middle."""
    model = model_of(source="boat", metal="Al", charge="120mg", current=None, distance="15cm")
    mass, used = model.leaving(np.zeros(1), np.zeros(1))
    assert math.exp(mass[0]) == pytest.approx(0.12)
    nm = math.exp(mass[0] + model.ln_nm_per_g["piece"])
    assert nm == pytest.approx(1e7 * 0.12 / (math.pi * 15.0**2 * 2.70), rel=0.01)
    assert (used.tolist(), model.melted) == ([0.0], None)


def test_the_next_charge_is_planned_with_its_time():
    draws = learn_jar([], JarPrior(("boat Al",), True), draws=60)
    run = run_of(source="boat", metal="Al", charge="20mg", current=None, distance="15cm")
    found = next_run.advise([run], setups(), want="Al 60nm", learnt=learnt_of(draws, 1))
    seconds = float(found.done["time"].removesuffix("s"))
    milligrams = float(found.done["charge"].removesuffix("mg"))
    assert milligrams / 20.0 == pytest.approx(seconds / 720.0, rel=0.05)
    assert next_words(found.done).startswith(found.done["charge"])


def test_a_piece_that_was_weighed_tells_its_thickness():
    """27 µg/cm² of aluminium are 100 nm; a balance shows 0.1 mg, here on 100 cm²."""
    weighed = LoggedPiece("dial", {}, (Noted("weight", "2.7mg on 100cm2"),))
    read = piece_evidence(weighed, "Al")
    nm = np.exp(np.average(LN_NM, weights=read.likelihood[0]))
    assert nm == pytest.approx(100.0, rel=0.12)
    twice = LoggedPiece("dial", {}, (*weighed.observations, Noted("weight", "2.6mg on 100cm2")))
    narrower = piece_evidence(twice, "Al").likelihood[0]
    assert narrower.sum() < read.likelihood[0].sum()


def test_a_coil_is_a_shorter_source_of_the_same_wire():
    straight, coiled = model_of(), model_of(coil="5mm,0.8mm")
    assert coiled.coiled
    assert not straight.coiled
    assert coiled.ln_melting != straight.ln_melting
    # nearer to a point, of which more goes straight up to the piece
    assert coiled.ln_nm_per_g["piece"] > straight.ln_nm_per_g["piece"]


def test_gas_on_the_way_takes_metal_away():
    """From what is as good as a point; so much of a long wire misses that its gas costs nothing."""
    short = {"wire_length": "1cm"}
    clear = model_of(**short).ln_nm_per_g["piece"]
    for name in ("working_pressure", "gauge_reading"):
        hazy, thick = (
            model_of(**short, **{name: f"{mbar}mbar"}).ln_nm_per_g["piece"]
            for mbar in ("5e-3", "5e-2")
        )
        assert thick < hazy < clear
    none = model_of(**short, working_pressure="0mbar").ln_nm_per_g["piece"]
    assert none == pytest.approx(clear, abs=1e-6)


@pytest.mark.parametrize(("metal", "molar"), [("Ti", 47.867), ("Al", 26.982), ("Au", 196.967)])
def test_gas_turns_sputtered_atoms_by_their_mass(metal, molar):
    head = {"source": "sputter", "metal": metal, "volts": "400V", "current": "0.1A"}
    clear, hazy = (
        model_of(**head, **gas).ln_nm_per_g["piece"]
        for gas in ({}, {"working_pressure": "2e-2mbar"})
    )
    free_cm = mean_free_path_cm({"Ar": 2e-2})
    left = arrival(Source("sputter"), Placement(50.0), free_cm, molar_mass=molar).factor
    assert hazy - clear == pytest.approx(math.log(left), rel=1e-3)


def test_below_the_currents_of_a_curve_a_wire_gives_less_as_steeply_as_at_its_end():
    ln_mass = model_of(current="1A").ln_mass_g_s
    rise = np.diff(ln_mass)
    assert (rise > 0.0).all()
    low, lower = (model_of(current=f"{amperes}A").ln_mass_g_s for amperes in (0.02, 0.01))
    assert low - lower == pytest.approx(np.full(low.size, low[0] - lower[0]))
    assert low[0] > lower[0]


def test_a_metal_that_is_carried_needs_no_wire_of_its_own():
    """A rate tells what arrives; the wire below it is tungsten unless it is said."""
    tin = model_of(metal="Sn", rate="0.2nm/s", current=None)
    assert tin.metal == "Sn"
    assert tin.ln_nm_per_g["piece"] == pytest.approx(
        model_of(metal="Sn", rate="0.2nm/s", current=None, wire="W").ln_nm_per_g["piece"]
    )


def test_what_is_noted_of_a_metal_that_nobody_simulated():
    seen, measured = (LoggedPiece("dial", {}, (Noted(*one),)) for one in
                      (("seen", "gold"), ("thickness", "40nm")))  # fmt: skip
    for metal, words in (("Co", "films of 'Co' cannot be assayed"), ("C", "neither metal nor")):
        with pytest.raises(InputError, match=words):
            piece_evidence(seen, metal)
    for metal in ("Co", "Au"):  # no oxide is known: as thick as its metal, whatever its state
        for row in piece_evidence(measured, metal).likelihood:
            assert math.exp(LN_NM[row.argmax()]) == pytest.approx(40.0, rel=0.05)


def test_where_a_piece_lay_is_said_by_its_place_or_its_lengths():
    facts = {**FACTS, "places": {"rim": {"distance": "7cm", "offset": "2cm"}}}
    rim = LoggedPiece("edge", {"place": "rim", "tilt": "10"})
    far = LoggedPiece("slide", {"distance": "7cm", "offset": "20mm", "tilt": "10"})
    model = model_run(run_of(pieces=[rim, far, LoggedPiece("dial", {})]), facts)
    assert model.ln_nm_per_g["edge"] == model.ln_nm_per_g["slide"] < model.ln_nm_per_g["dial"]
    assert model.places == {
        "edge": "rim", "slide": "70 mm, 20 mm off, tilted 10°", "dial": "50 mm",
    }  # fmt: skip
    for given, words in ((facts, "no place 'attic'; it has rim"), (FACTS, "it names none")):
        with pytest.raises(InputError, match=words) as refused:
            place_piece(LoggedPiece("edge", {"place": "attic"}), given)
        assert refused.value.parameter == "place"


def test_gas_that_was_let_in_hides_what_the_gauge_would_tell():
    jar = jar_of({}, FACTS)
    said = {"gauge_reading": "2e-3mbar"}
    assert pressure_read(said, jar, name="gauge_reading") == pytest.approx(math.log(2e-3))
    assert pressure_read({}, jar, name="gauge_reading") is None
    assert pressure_read(said | {"working_gas": "argon"}, jar, name="gauge_reading") is None
    held = jar_of({"base_pressure": "1e-4mbar"}, {"jar": {"volume": "3l"}})
    assert pressure_read(said, held, name="gauge_reading") is None
    assert working_of({}, FACTS) is None
    assert working_of({"working_gas": "argon"}, FACTS) is None
    both = {"working_gas": "argon", "gauge_reading": "8e-3mbar"}
    assert working_of(both, FACTS) == ("Ar", pytest.approx(8e-3))
    assert working_of(both | {"working_pressure": "5e-3mbar"}, FACTS) == ("Ar", pytest.approx(5e-3))
    assert jar_of({"plastic": "yes"}, FACTS).plastic
    assert not jar_of({"plastic": "no"}, FACTS).plastic


HEAT = {"metal": "Ti", "at": "440C", "time": "1h"}


def heat_of(number, *looks, **done):
    noted = tuple(Noted(what, text) for what, text in looks)
    return run_of(number, pieces=[LoggedPiece("dial", {}, noted)], kind="kiln", base=HEAT, **done)


def test_a_kiln_without_a_piece_is_the_shipped_one_or_refused():
    silent = [heat_of(1, ("remark", "nice"), ("ohms", "open")), heat_of(2, at=None)]
    shipped = kiln_so_far(silent, "kiln", "Ti")
    assert shipped.metal.key == "Ti"
    for metal, of in ((None, ""), ("Ti", " of Ti")):
        with pytest.raises(InputError, match=f"holds no piece{of} from 'kiln' with its heat"):
            learn_kiln(silent, "kiln", metal=metal)
    unnamed = [*silent, heat_of(3, ("seen", "blue"), metal=None)]
    with pytest.raises(InputError, match="no run of 'kiln' says which metal was heated"):
        learn_kiln(unnamed, "kiln")
    assert len(pieces_of(unnamed, "kiln", "Ti")[1]) == 1
    with pytest.raises(InputError, match="run 2 does not say its heat and time"):
        _kiln_range(silent[1], silent, "kiln", None)
    low, high = _kiln_range(silent[0], silent, "kiln", None)
    assert 0.0 < low < high < 500.0
    assert find_metal("Ti").key == "Ti"


def test_a_kiln_learns_from_looks_and_thicknesses_of_the_metal_that_is_meant():
    runs = [heat_of(1, ("seen", "gold"), metal="steel"), heat_of(2, ("thickness", "30nm")),
            heat_of(4, ("seen", "purple"), ("remark", "x"), at="460C")]  # fmt: skip
    with pytest.raises(InputError, match="are of carbon steel and titanium; say with `metal`"):
        learn_kiln(runs, "kiln")
    found = learn_kiln(runs, "kiln", metal="Ti")
    assert found.fitted.metal.key == "Ti"
    assert len(found.residuals) == 2


def setups(facts=FACTS, kind="chamber"):
    return [LoggedSetup("jar", 1, kind, facts)]


def test_a_jar_as_learnt_has_its_leak_walls_and_pressure_moved():
    draws = learn_jar([], JarPrior(("wire Ti",), True), draws=50)
    fixed = replace(draws, drawn=np.zeros((50, len(draws.prior.unknowns))))
    jar = learnt_jar({}, FACTS["jar"] and FACTS, fixed)
    assert jar.leak_mbar_l_s == pytest.approx(1e-3)
    assert jar.outgassing_mbar_l_s is not None
    told = {"jar": {**FACTS["jar"], "outgassing": "3e-4mbar.l/s"}}
    assert learnt_jar({}, told, fixed).outgassing_mbar_l_s == pytest.approx(3e-4)
    risen = {"jar": {"volume": "3l", "pumping": "2l/s", "rise": "1e-3mbar,1e-2mbar,60s"}}
    tested = learnt_jar({}, risen, fixed)
    assert tested.rise is None
    assert tested.leak_mbar_l_s == pytest.approx(3.0 * 9e-3 / 60.0, rel=0.5)
    walls = {"jar": {**risen["jar"], "outgassing": "3e-4mbar.l/s"}}
    kept = learnt_jar({}, walls, fixed)
    assert kept.outgassing_mbar_l_s == pytest.approx(3e-4)
    held = learnt_jar({"base_pressure": "3e-5mbar"}, {"jar": {"volume": "3l"}}, fixed)
    assert held.base_mbar == pytest.approx(3e-5)
    assert held.leak_mbar_l_s is None


def test_what_is_known_goes_to_the_verb_that_asks():
    heats = [heat_of(1, ("thickness", "20nm")), heat_of(2, ("thickness", "30nm"), at="460C")]
    kiln = [LoggedSetup("kiln", 1, "kiln", {})]
    found = known_for("tint", "kiln", heats, setups=kiln)
    assert found["kiln"].metal.key == "Ti"
    for verb, kind, given, words, parameter in (
        ("look", "kiln", kiln, "`verb` must be one of sheet, assay, tint, gauge", "verb"),
        ("sheet", "kiln", kiln, "'kiln' is a kiln; sheet uses a chamber", "setup"),
        ("gauge", "kiln", kiln, "'kiln' has no run 7 that was done", "run"),
    ):
        with pytest.raises(InputError, match=words) as refused:
            known_for(verb, kind, heats, setups=given, run=7)
        assert refused.value.parameter == parameter
    with pytest.raises(InputError, match="'kiln' has no run that was done"):
        known_for("gauge", "kiln", [], setups=kiln)
    seen = LoggedPiece("dial", {"offset": "1cm"}, (Noted("thickness", "40nm"),))
    none = dict.fromkeys(("wire_length", "wire_diameter"))
    fed = {"source": "sputter", "volts": "400V", "current": "0.1A", "working_gas": "argon"}
    sputtered = run_of(pieces=[seen], working_pressure="5e-3mbar", plastic="yes", **none, **fed)
    sheet = known_for("sheet", "chamber", [sputtered], setups=setups())
    assert sheet["setup"] == {
        "source": "sputter", "current": "0.1A", "offset": "1cm", "distance": "5cm",
        "voltage": "400V", "tooling": sheet["setup"]["tooling"],
    }  # fmt: skip
    assert (sheet["working_gas"], sheet["plastic"]) == ("argon", True)


@pytest.mark.parametrize(
    ("want", "nm", "state"),
    [
        ("Ti 80nm", 80.0, "metal"),
        (" Ti 0.08um ", 80.0, "metal"),
        ("TiO2 77nm", 40.0, "oxide"),
        ("TiO2(rutile) 70nm", 37.5, "oxide"),
    ],
)
def test_a_film_is_wanted_as_metal_or_as_its_oxide(want, nm, state):
    goal = next_run.parse_goal_film(want, "Ti", 0.15)
    # TiO2 over Ti by densities and molar masses: 1.93, see test_learning
    assert goal.nm == pytest.approx(nm, rel=0.1)
    assert (goal.within, goal.state) == (0.15, state)


def test_what_the_runs_do_not_deposit_is_not_wanted():
    for want, metal in (("TiO2 40nm", "Al"), ("Al 40nm", "Ti"), ("SiO2 40nm", "Co")):
        with pytest.raises(InputError, match=f"but the runs deposit {metal}") as refused:
            next_run.parse_goal_film(want, metal, 0.15)
        assert refused.value.parameter == "want"


@pytest.mark.parametrize("want", ["Ti 80nm / glass", "Ti 80nm / Al 30nm", "Ti80nm", "Ti 80nm/"])
def test_more_than_a_film_is_not_wanted(want):
    with pytest.raises(InputError, match="is not one film with its thickness and without what"):
        next_run.parse_goal_film(want, "Ti", 0.15)


@pytest.mark.parametrize("want", ["Ti 0.4nm", "Ti 5um", "Ti 0nm"])
def test_a_thickness_that_no_run_is_planned_for(want):
    with pytest.raises(OutOfRangeError, match="a run is planned for ") as refused:
        next_run.parse_goal_film(want, "Ti", 0.15)
    assert refused.value.parameter == "want"


@pytest.mark.parametrize(
    ("chances", "goal", "runs", "risky", "words"),
    [
        ((0.9, 0.2), "metal", 9, True, "more often than 5 % of the time"),
        ((0.9, 0.2), "metal", 9, False, "oxygen: a smaller leak"),
        ((0.9, 0.2), "oxide", 9, False, "too little oxygen"),
        ((0.2, 0.9), "metal", 4, False, "known from 4 runs only"),
        ((0.2, 0.9), "metal", 1, False, "known from 1 run only"),
        ((0.5, 0.5), "metal", 5, False, "the scatter of the thickness"),
    ],
)  # fmt: skip
def test_what_limits_the_next_run(chances, goal, runs, risky, words):
    best = Settings(0.0, 600.0, 0.1, *chances, 0.0)
    wanted = WantedMetal(40.0, 0.15, goal)
    assert words in next_run._limit(best, wanted, runs, too_risky=risky, risk=0.05)


def test_the_newest_run_that_can_be_computed_is_the_one_to_be_like():
    runs = [
        run_of(1, current="6.0A"),
        run_of(2, melted="yes", new_wire="yes"),
        run_of(3, rate="0.2nm/s", melted="yes"),
        run_of(4, metal=None),
        run_of(5, base={}),
    ]
    last, model = next_run._newest_model(runs, setups())
    assert last.run == 2
    assert (model.melted, model.fresh_wire) == (False, False)
    with pytest.raises(InputError, match="says enough to plan the next from it"):
        next_run._newest_model(runs[2:], setups())


def learnt_of(draws, runs):
    return JarLearnt("jar", "chamber", runs, (), (), (), None, {}, draws)


@pytest.mark.parametrize("name", ["within", "risk"])
@pytest.mark.parametrize("value", [-0.1, 1.1, True, "0.1", None, math.nan, math.inf])
def test_shares_that_are_none_are_refused(name, value):
    with pytest.raises(OutOfRangeError, match=f"`{name}` must be a share from ") as refused:
        next_run.advise([], [], want="Ti 40nm", **{name: value})
    assert refused.value.parameter == name


def test_the_next_run_takes_a_new_wire_where_the_old_one_is_thin_and_tries_each_knob():
    draws = learn_jar([], JarPrior(("wire Ti",), True), draws=60)
    worn = replace(draws, wire_loss=np.full(60, -0.3))
    run = run_of(6, plastic="yes", melted="no", new_wire="yes")
    found = next_run.advise([run], setups(), want="Ti 30nm", risk=0.3, learnt=learnt_of(worn, 6))
    assert found.done["new_wire"] == "yes"
    knobs = [one.knob for one in found.notches]
    assert knobs == [
        "current +2 %", "current −2 %", "time +10 %", "time −10 %",
        "flushed with argon, 3 times to 5 mbar", "leak halved", "plastic out",
    ]  # fmt: skip
    assert found.done["current"].endswith("A")
    assert found.done["time"].endswith("s")
    assert (found.want, found.within, found.runs) == ("Ti 30nm", 0.15, 6)
    rated = run_of(7, rate="0.2nm/s", current=None, flush="3,5mbar")
    second = next_run.advise([rated], setups(), want="Ti 30nm", learnt=learnt_of(draws, 7))
    assert [one.knob for one in second.notches] == ["time +10 %", "time −10 %", "leak halved"]
    assert second.melts == 0.0
    assert "current" not in second.done
    assert 0.4 < float(second.done["time"].removesuffix("s")) / 150.0 < 2.5  # 30 nm at 0.2 nm/s
