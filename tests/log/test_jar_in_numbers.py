"""What a jar's model makes of runs of every kind: the doubts stated for it, and its numbers kept.

The draws are few and fixed, not learnt, so that each number is that of one formula.
"""

import math
from dataclasses import replace

import numpy as np
import pytest

from oxhue.optics.log import known, learn, next_run, planner
from oxhue.optics.log.evidence import LN_NM, PieceEvidence
from oxhue.optics.log.gauge_now import read_gauge
from oxhue.optics.log.jar_posterior import (
    JarDraws,
    RunEvidence,
    learn_jar,
    log_likelihood,
    looks_likelihood,
    melting_chance,
    predict_ln_nm,
    predict_run,
    run_log_likelihood,
    seen_states,
    typical_likelihood,
)
from oxhue.optics.log.jar_prior import PARAMETERS, JarPrior, step_doubt
from oxhue.optics.log.planner import WantedMetal, best_settings, odds, telling_settings
from oxhue.optics.log.records import LoggedPiece, LoggedRun, LoggedSetup, Noted
from oxhue.optics.log.run_gas import (
    base_doubt,
    flush_left,
    jar_of,
    leak_doubt,
    pressure_read,
    pressure_share,
    working_of,
)
from oxhue.optics.log.run_model import BeforeRun, model_run
from tests.kept_numbers import assert_as_kept

LEAKY = {"jar": {"volume": "3l", "pumping": "2l/s", "leak": "1e-3mbar.l/s"},
         "places": {"rim": {"distance": "7cm", "offset": "2cm", "tilt": "20"}}}  # fmt: skip
HELD = {"jar": {"volume": "3l"}}
WIRE = {"source": "wire", "metal": "Ti", "wire_diameter": "0.5mm", "wire_length": "200mm",
        "current": "6.4A", "time": "12min", "distance": "5cm"}  # fmt: skip


def thick(name, nm, **facts):
    return LoggedPiece(name, facts, (Noted("thickness", f"{nm}nm"),))


def run(number, *pieces, **done):
    return LoggedRun(number, "jar", 1, "chamber", "", "", done, "", pieces)


RUNS = [
    run(1, thick("slide", 80), **WIRE, new_wire="yes", gauge_reading="2e-3mbar",
        base_pressure="6e-4mbar"),
    run(2, thick("slide", 110), thick("edge", 50, place="rim"), **WIRE, coil="5mm,0.8mm",
        melted="yes", working_gas="argon", working_pressure="5e-3mbar"),
    run(3, thick("slide", 650), source="sputter", metal="Ti", volts="400V", current="0.1A",
        time="20min", plastic="yes", flush="3,5mbar", pumped="44min"),
    run(4, LoggedPiece("dial", {}, (Noted("weight", "2.7mg on 100cm2"),)), source="boat",
        metal="Al", charge="120mg", time="3min", distance="15cm"),
    run(5, thick("slide", 200), **{**WIRE, "current": "6.6A"}, melted="no"),
]  # fmt: skip
SETUP = LoggedSetup("jar", 1, "chamber", LEAKY)


def prior_draws(prior, rows=40, runs=()):
    z = 0.4 * np.random.default_rng(3).standard_normal((rows, len(prior.unknowns)))
    return JarDraws(prior, z, 0.0, np.linspace(-0.06, 0.0, rows), tuple(runs))


@pytest.fixture(scope="module")
def read():
    """The runs as evidence, the doubts of their jar, and draws of it."""
    found, told, skipped = learn.read_runs(RUNS, [SETUP])
    assert skipped == []
    prior = learn.prior_of(found, told, SETUP)
    return found, prior, prior_draws(prior, runs=[one.model.run for one in found])


@pytest.fixture
def drawn_at_once(monkeypatch):
    """Draws of the prior for those that would be learnt, and few settings to choose from."""

    def draw(runs, prior, **_):
        if len(prior.step_chances) != len(runs):
            prior = replace(prior, step_chances=(0.05,) * len(runs))
        return prior_draws(prior, runs=[one.model.run for one in runs])

    monkeypatch.setattr(learn, "learn_jar", draw)
    monkeypatch.setattr(next_run, "learn_jar", draw)
    monkeypatch.setattr(planner, "_CURRENTS", planner._CURRENTS[::6])
    monkeypatch.setattr(planner, "_TIMES", planner._TIMES[::3])


ONE = np.eye(len(PARAMETERS))


@pytest.mark.parametrize(
    ("what", "column", "doubt"),
    [
        (lambda prior, z: prior.rate(z, "wire Ti"), "rate", 0.5),
        (lambda prior, z: prior.current(z), "current", 0.06),
        (lambda prior, z: replace(prior, wire_known=False).current(z), "current", 0.6),
        (lambda prior, z: prior.coil(z), "coil", 0.15),
        (lambda prior, z: prior.gas(z)[:, 0], "leak", 0.9),
        (lambda prior, z: prior.gas(z)[:, 1], "outgassing", 1.0),
        (lambda prior, z: prior.gas(z)[:, 2], "sticking", 0.5),
        (lambda prior, z: prior.gas(z, BeforeRun(1.0))[:, 1] - prior.gas(z)[:, 1], "decay", -0.2),
        (lambda prior, z: np.log(prior.scatter(z) / 0.18), "scatter", 0.5),
    ],
)  # fmt: skip
def test_each_doubt_of_a_jar_is_that_of_one_unknown(what, column, doubt):
    prior = JarPrior(("wire Ti",), True, 0.9)
    assert prior.unknowns == PARAMETERS
    moved = what(prior, ONE)
    expected = np.zeros(len(PARAMETERS))
    expected[PARAMETERS.index(column)] = doubt
    np.testing.assert_allclose(moved, expected, atol=1e-12)


@pytest.mark.parametrize(
    ("source", "doubt"),
    [("wire Ti", 0.5), ("sputter Ti", 0.5), ("boat Al", 0.3), ("point Al", 0.3), ("plane Al", 0.3)],
)
def test_each_further_source_has_a_rate_of_its_own(source, doubt):
    prior = JarPrior(("boat Cr", source), True)
    z = np.eye(len(prior.unknowns))
    assert prior.unknowns[-1] == source
    assert prior.rate(z, source)[-1] == doubt
    assert prior.rate(z, "boat Cr")[[0, -1]].tolist() == [0.3, 0.0]


def test_one_piece_in_twenty_is_misread_before_anything_is_known():
    """As odds, within a factor of e^1.1."""
    prior = JarPrior(("wire Ti",), True)
    odds_of = {z: 1.0 / (1.0 / prior.misread(z * ONE[[6]])[0] - 1.0) for z in (0.0, 1.0)}
    assert odds_of[0.0] == pytest.approx(1.0 / 19.0)
    assert odds_of[1.0] / odds_of[0.0] == pytest.approx(math.exp(1.1))


def test_what_comes_back_after_a_flush():
    """One half of what is held, nine tenths of what walls give off; the rest as the flush left it.

    Nine tenths are log odds of 2.2, and within log odds of 1.1 either way.
    """
    prior, still = JarPrior(("wire Ti",), True), np.zeros((1, len(PARAMETERS)))
    for held, column, back in ((True, 0, 0.5), (False, 1, 1.0 / (1.0 + math.exp(-2.2)))):
        moved = prior.gas(still, BeforeRun(flush_left=0.01, held=held))[0]
        assert math.exp(moved[column]) == pytest.approx(back + (1.0 - back) * 0.01)
        assert np.delete(moved, column).tolist() == [0.0, 0.0]
    more = math.exp(prior.gas(ONE[[9]], BeforeRun(flush_left=1e-9, held=True))[0, 0])
    assert math.log(more / (1.0 - more)) == pytest.approx(1.1, rel=1e-6)
    assert prior.gas(still, BeforeRun(flush_left=1.0, held=True))[0, 0] == 0.0


def test_tooling_is_against_the_first_place_and_the_rest_of_a_gauge_is_the_last_unknown():
    prior = JarPrior(("wire Ti",), True, places=("middle", "rim"), gauged=True)
    assert prior.unknowns[-2:] == ("rim", "rest of the gauge")
    z = np.eye(len(prior.unknowns))
    assert prior.tooling(z, "rim")[[0, -2, -1]].tolist() == [0.0, 0.15, 0.0]
    assert not prior.tooling(z, "middle").any()
    np.testing.assert_allclose(prior.rest_of_gauge(z)[-2:], math.log(1e-4) + np.array([0.0, 2.0]))
    np.testing.assert_allclose(JarPrior(("wire Ti",), True).rest_of_gauge(ONE), math.log(1e-4))


def test_a_step_moves_the_leak_or_every_rate_from_its_run_on():
    prior = JarPrior(("wire Ti", "boat Al"), True, 0.8, step_chances=(0.05, 0.5))
    z = np.zeros((1, len(prior.unknowns)))
    when, size = (PARAMETERS.index(f"leak step 1 {part}") for part in ("when", "size"))
    z[0, [when, size]] = -3.0, 1.0  # as late as can be: before the next run
    steps = prior.steps(z, "leak")
    np.testing.assert_allclose(steps, [[0.0, 0.0, step_doubt("leak")]])
    assert not prior.steps(z, "rate").any()
    now = prior.at_run(z, 2)
    assert now[0, 2] == pytest.approx(step_doubt("leak") / 0.8)
    when, size = (PARAMETERS.index(f"rate step 1 {part}") for part in ("when", "size"))
    z[0, [when, size]] = -3.0, 1.0
    np.testing.assert_allclose(prior.steps(z, "rate"), [[0.0, 0.0, 0.7]])
    moved = prior.at_run(z, 2)
    rates = [prior.rate(moved, source)[0] for source in prior.sources]
    assert rates == pytest.approx([0.7, 0.7])
    first, second = prior.each_run(z)
    assert (first == z).all()
    assert (second == z).all()


def test_how_much_is_known_of_the_gas():
    leak, held = jar_of({}, LEAKY), jar_of({"base_pressure": "1e-4mbar"}, HELD)
    found = {
        "doubt": [leak_doubt(leak), leak_doubt(jar_of({}, {"jar": {"pumping": "2l/s"}})),
                  leak_doubt(held), leak_doubt(held, told=False), base_doubt()],
        "share": [pressure_share(leak), pressure_share(held)],
        "flush": [flush_left({}, leak), flush_left({"flush": "3,5mbar"}, leak),
                  flush_left({"flush": "3,5mbar"}, held),
                  flush_left({"flush": "3,5mbar,1e-1mbar"}, held)],
    }  # fmt: skip
    for read_mbar in ("5e-5", "2e-4"):
        jar = jar_of({"gauge_reading": f"{read_mbar}mbar"}, {})
        found[f"read {read_mbar}"] = {
            "base": jar.base_mbar, "of": jar.residue, "pump": jar.pump.speed_l_s,
        }  # fmt: skip
    in_argon = jar_of({"gauge_reading": "5e-3mbar", "working_gas": "argon"}, {})
    found["in argon"] = in_argon.base_mbar
    found["bare"] = jar_of({}, {}).base_mbar
    assert pressure_read({"gauge_reading": "0mbar"}, leak, name="gauge_reading") == math.log(1e-12)
    told = working_of({"working_gas": "nitrogen", "working_pressure": "1e-2mbar"}, LEAKY)
    found["working"] = [*told]
    assert_as_kept("log-gas", found)


def test_what_runs_of_every_kind_give_at_draws_of_their_jar(read):
    found, prior, draws = read
    some = draws.drawn[:6]
    each, losses = log_likelihood(found, prior, some)
    told = {"unknowns": list(prior.unknowns), "log likelihood": each, "losses": losses,
            "doubt": prior.leak_doubt, "steps": list(prior.step_chances)}  # fmt: skip
    for one in found:
        loss = np.full(6, -0.02)
        made = predict_run(one.model, prior, some, loss=loss)
        told[f"run {one.model.run}"] = {
            "nm": {name: np.exp(ln_nm) for name, ln_nm in made.ln_nm.items()},
            "middle": made.ln_middle, "mass": made.ln_mass, "states": made.states,
            "settings": made.settings, "looks": looks_likelihood(one, prior, some, made=made),
            "seen": seen_states(one, prior, some, made=made),
            "typical": typical_likelihood(one.pieces),
            "melts": melting_chance(one.model, prior, some, loss=loss),
            "alone": run_log_likelihood(one, prior, some, loss=loss),
            "used": one.model.leaving(np.array([-0.1, 0.0, 0.1]), np.zeros(3)),
            "gate": one.model.gate_holds, "places": one.model.places,
            "before": list(vars(one.model.before).values()), "melting": one.model.ln_melting,
        }  # fmt: skip
    assert_as_kept("log-runs", told)


def test_a_run_without_pieces_is_known_by_its_gauge_alone(read):
    found, prior, draws = read
    bare = RunEvidence(found[0].model, ())
    some = draws.drawn[:3]
    made = predict_run(bare.model, prior, some, loss=np.zeros(3))
    assert (run_log_likelihood(bare, prior, some, loss=np.zeros(3)) == made.settings).all()
    assert (seen_states(bare, prior, some, made=made) == made.states).all()
    assert (predict_ln_nm(bare.model, prior, some, loss=np.zeros(3))["slide"]
            == made.ln_nm["slide"]).all()  # fmt: skip


@pytest.mark.usefixtures("drawn_at_once")
def test_what_is_learnt_of_a_jar_in_numbers():
    """Each number, each check and each cause, as of draws that nothing was learnt from."""
    learnt = learn.learn([*RUNS, replace(RUNS[2], run=6, pieces=()), run(7)], [SETUP])
    assert learnt.skipped == ("run 6: nothing was noted of what came out",)
    told = learnt.to_dict()
    del told["oxhue"]  # the version
    told["causes"] = {number: [vars(one) for one in causes]
                      for number, causes in learnt.causes.items()}  # fmt: skip
    assert_as_kept("log-learnt", told)
    bare = learn.learn(RUNS, [SETUP], check=False)
    assert (bare.checks, bare.causes, bare.change) == ((), {}, None)
    assert bare.numbers == learnt.numbers


@pytest.mark.parametrize(
    ("name", "want", "given"),
    [("metal", "Ti 40nm", {"within": 0.3, "risk": 0.4}),
     ("oxide", "TiO2 60nm", {"within": 0.2, "risk": 0.0}),
     ("read", "Ti 40nm", {"risk": 1.0, "base_pressure": "8e-3mbar"})],
)  # fmt: skip
@pytest.mark.usefixtures("drawn_at_once")
def test_what_the_next_run_is_in_numbers(name, want, given):
    runs = [RUNS[0], RUNS[4]]
    learnt = learn.learn(runs, [SETUP], check=False)
    found = next_run.advise(runs, [SETUP], want=want, learnt=learnt, **given)
    assert_as_kept(f"log-next-{name}", {**found.to_dict(), "oxhue": None})


def test_what_a_gauge_shows_today_moves_the_leak(read):
    _, prior, _ = read
    prior = replace(prior, step_chances=(*prior.step_chances[:-1], 0.3))  # recorded again since
    draws = prior_draws(prior, 400, range(5))
    model = model_run(replace(RUNS[0], run=6), LEAKY)
    told = {}
    for name, mbar in (("usual", 6e-4), ("more", 2e-3), ("leaking", 2e-2)):
        found = read_gauge(draws, replace(model, ln_base=math.log(mbar))).z[:, 2]
        told[name] = [found.mean(), np.median(found), found.std()]
    assert told["leaking"][1] > told["more"][1] > told["usual"][1]
    assert_as_kept("log-gauge-now", told)
    assert read_gauge(draws, replace(model, ln_base=None)) is draws
    blind = replace(draws, prior=replace(prior, gauged=False), drawn=draws.drawn[:, :-1])
    now = read_gauge(blind, model)
    assert now.prior.gauged
    assert now.z.shape == draws.z.shape
    assert now.wire_loss.shape == (400,)
    assert now.prior.step_chances == ()
    assert (read_gauge(draws, model, seed=2).z != read_gauge(draws, model).z).any()


def test_settings_in_numbers(read):
    found, _, draws = read
    draws = replace(draws, drawn=draws.drawn[::4], wire_loss=draws.wire_loss[::4])
    model, goal = found[4].model, WantedMetal(40.0, 0.2, "metal")
    told = {
        "odds": vars(odds(model, draws, goal, ln_current=-0.05, seconds=500.0)),
        "oxide": vars(odds(model, draws, replace(goal, state="oxide"), ln_current=0.0,
                           seconds=500.0)),
        "telling": vars(telling_settings(model, draws, risk=0.3)),
        "carried": vars(telling_settings(found[3].model, draws, risk=0.3)),
    }  # fmt: skip
    for risk in (0.0, 0.3):
        best, too_risky = best_settings(model, draws, goal, risk=risk)
        told[f"risk {risk}"] = {**vars(best), "too risky": too_risky}
    assert_as_kept("log-settings", told)


@pytest.mark.usefixtures("drawn_at_once")
def test_what_other_verbs_take_from_a_log_in_numbers():
    said = {}
    for verb in ("sheet", "assay", "gauge"):
        given = known.known_for(verb, "chamber", RUNS, setups=[SETUP], metal="Ti")
        jar = given.pop("jar", None)
        said[verb] = given
        if jar is not None:
            said[f"{verb} jar"] = [jar.leak_mbar_l_s, jar.outgassing_mbar_l_s]
    said["gauge of 1"] = known.known_for("gauge", "chamber", RUNS, setups=[SETUP], run=1)
    assert_as_kept("log-known", said)


def test_draws_that_agree_with_a_run(read):
    """A few draws, learnt: rate and current that give the 30 nm of a run of a wire."""
    table = np.full((3, LN_NM.size), 1e-9)
    table[0] = np.exp(-0.5 * ((LN_NM - math.log(30.0)) / 0.1) ** 2)
    model = replace(read[0][0].model, ln_reading=None, ln_base=None)
    draws = learn_jar([RunEvidence(model, (PieceEvidence("slide", table),))],
                      JarPrior(("wire Ti",), True), draws=64)  # fmt: skip
    told = {"mean": draws.drawn[:, :2].mean(axis=0), "evidence": draws.log_evidence,
            "loss": float(draws.wire_loss.mean()), "runs": list(draws.runs)}  # fmt: skip
    assert_as_kept("log-draws", told)
