"""Goals on phases and delays: against closed forms, the public spectra, and their own slopes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.design.design import design
from oxhue.optics.design.extremes import check_goals
from oxhue.optics.design.goal_reader import parse_goal
from oxhue.optics.design.goals import Goal, format_goal
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.tolerance import DepositionErrors, simulate
from oxhue.optics.errors import InputError, NotationError
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve
from tests.design.slopes import assert_slopes_are_those_of_differences

LIGHT_NM_FS = 299.792458
PALETTE = [parse_medium(name) for name in ("n=1.46", "n=2.35", "n=1.8+0.05i")]
WHICH, FILMS_NM = np.array([0, 1, 2, 1, 0]), np.array([90.0, 60.0, 20.0, 70.0, 110.0])

READ = {
    "phase=180deg 633nm": Goal("phase", "=", amount=180.0, band_nm=(633.0, 633.0)),
    "phase = -90° 500..600nm at 45deg p within 2deg": Goal(
        "phase", "=", amount=-90.0, band_nm=(500.0, 600.0), angles_deg=(45.0, 45.0),
        polarization="p", within=2.0,
    ),
    "Δ=90deg 633nm 45deg x2": Goal(
        "delta", "=", amount=90.0, band_nm=(633.0, 633.0), angles_deg=(45.0, 45.0), weight=2.0
    ),
    "group delay<1.5ps 750nm": Goal("delay", "<", amount=1500.0, band_nm=(750.0, 750.0)),
    "delay=20fs 750..850nm through ±1fs": Goal(
        "delay", "=", amount=20.0, band_nm=(750.0, 850.0), view="through", within=1.0
    ),
}  # fmt: skip
REFUSED = [
    ("phase>90deg 633nm", 0, "comes round again"),
    ("phase=90% 633nm", 8, "expected a band"),
    ("phase=400deg 633nm", 6, "between -360 and 360 degrees"),
    ("delay<20 633nm", 6, "a time in fs or ps"),
    ("delay<20fs", 10, "needs a band"),
    ("delay<20fs mean 500..600nm", 11, "at every wavelength"),
    ("delta=90deg 633nm s", 18, "phase of p less that of s"),
    ("phase=90deg 633nm within 2%", 26, "expected a band"),
]


@pytest.mark.parametrize("text", READ)
def test_goals_read_as_meant_and_written_again(text):
    goal = parse_goal(text)
    assert goal == READ[text]
    assert parse_goal(format_goal(goal)) == goal


@pytest.mark.parametrize(("text", "position", "problem"), REFUSED)
def test_errors_point_at_the_character(text, position, problem):
    with pytest.raises(NotationError, match=problem) as caught:
        parse_goal(text)
    assert caught.value.position == position


@given(
    quantity=st.sampled_from(["phase", "delta", "delay"]),
    amount=st.floats(-360.0, 360.0),
    within=st.none() | st.floats(0.001, 360.0),
    view=st.sampled_from(["front", "back", "through"]),
)
@settings(deadline=None, max_examples=60)
def test_any_goal_written_reads_as_itself(quantity, amount, within, view):
    goal = Goal(quantity, "=", amount=amount, band_nm=(500.0, 600.0), within=within, view=view)
    assert parse_goal(format_goal(goal)) == goal


def reading(text, on, films_nm=(), names=("n=1.46",)):
    """What a goal reads of films on a base: least and most."""
    palette = [parse_medium(name) for name in names]
    merit = make_merit(parse_stack(on), palette, [parse_goal(text)])
    which = np.arange(len(films_nm))
    (found,) = merit.results(which, np.array(films_nm, dtype=float))
    return found.least, found.most


def test_a_film_of_air_turns_the_phase_by_the_way_there_and_back():
    # r of the bare face is negative, half a turn; a path of 2 d more turns it by 4 π d / λ.
    d, nm = 37.0, 500.0
    least, most = reading(f"phase=0deg {nm:g}nm", "n=1.5", [d], ["n=1"])
    expected = (180.0 + 720.0 * d / nm) % 360.0
    assert (least - expected) % 360.0 == pytest.approx(0.0, abs=1e-9)
    assert least == most


def test_a_film_of_air_delays_a_pulse_by_its_way():
    # τ = 2 d / c, whatever the wavelength
    least, most = reading("delay=0fs 500..700nm", "n=1.5", [3000.0], ["n=1"])
    assert (least, most) == pytest.approx((6000.0 / LIGHT_NM_FS,) * 2, rel=1e-8)


def test_light_let_through_is_delayed_by_the_film():
    # A film of the base's index on it only lengthens the way in it: τ = n d / c.
    least, most = reading("delay=0fs 500..700nm through", "n=1.5", [2000.0], ["n=1.5"])
    assert (least, most) == pytest.approx((1.5 * 2000.0 / LIGHT_NM_FS,) * 2, rel=1e-8)


def test_a_quarter_wave_mirror_delays_as_its_closed_form_says():
    # (HL)^p without end, H towards the air: τ = π/ω0 · n_0/(n_H - n_L) = λ0/(2c (n_H - n_L)), the
    # penetration of D. I. Babić and S. W. Corzine, IEEE J. Quantum Electron. 28, 514 (1992) (from
    # memory); what 30 pairs are short of it is far below the tolerance.
    nm, pairs, low, high = 800.0, 30, 1.46, 2.35
    films = [nm / 4 / n for _ in range(pairs) for n in (high, low)]
    palette = [parse_medium(f"n={high}"), parse_medium(f"n={low}")]
    merit = make_merit(parse_stack("n=1.5"), palette, [parse_goal(f"delay=0fs {nm:g}nm")])
    (found,) = merit.results(np.tile([0, 1], pairs), np.array(films))
    assert found.least == pytest.approx(nm / (2.0 * LIGHT_NM_FS * (high - low)), rel=1e-3)


@pytest.mark.parametrize(
    "text",
    [
        "phase=0deg 500..700nm", "phase=0deg 500..700nm at 50deg s",
        "phase=0deg 500..700nm at 50deg p", "delta=0deg 500..700nm at 50deg",
        "delay=0fs 500..700nm", "delay=0fs 500..700nm at 50deg p",
    ],
)  # fmt: skip
def test_goals_read_what_the_public_spectra_say(text):
    goal = parse_goal(text)
    merit = make_merit(parse_stack("n=1.52"), PALETTE, [goal])
    (sight,), ((_, term),) = merit.sights, merit.terms
    read = term.readings(sight.powers(sight.index(WHICH), FILMS_NM))
    names = ["n=1.46", "n=2.35", "n=1.8+0.05i"]
    films = [f"{names[i]} {nm}nm" for i, nm in zip(WHICH, FILMS_NM, strict=True)]
    piece = parse_stack(" / ".join([*films, "n=1.52"]))
    whole = {"phase": "phase_deg", "delta": "delta_deg", "delay": "group_delay_fs"}
    near = [
        solve(piece, nm + np.array([-0.005, 0.0, 0.005]), goal.angles_deg[0],
              polarization=goal.polarization)
        for nm in sight.wavelength_nm
    ]  # fmt: skip
    public = np.array([getattr(one, whole[goal.quantity])[1] for one in near])
    gap = read - public
    if goal.unit == "°":
        gap -= 360.0 * np.rint(gap / 360.0)
    assert np.abs(gap).max() < 1e-5


@pytest.mark.parametrize(
    "text",
    [
        "phase=10deg 500..600nm", "phase=10deg 500..600nm at 45deg p from back",
        "phase=30deg 500..600nm through", "delta=90deg 600..650nm 30..50deg within 2deg",
        "delta=90deg 633nm at 45deg through", "delay=20fs 750..850nm", "delay<1fs 700nm at 30deg s",
        "delay>9fs 700..720nm from back",
    ],
)  # fmt: skip
def test_slopes_are_those_of_differences(text):
    merit = make_merit(parse_stack("n=1.52"), PALETTE, [parse_goal(text)])
    assert_slopes_are_those_of_differences(merit, WHICH, FILMS_NM)


def test_a_phase_is_missed_by_the_shorter_way_round():
    (low,) = {*reading("phase=170deg 500nm", "n=1.5", [1.0], ["n=1"])}
    assert low == pytest.approx(180.0 + 720.0 / 500.0, abs=1e-6)  # not -178.56


def test_a_phase_needs_one_face_and_at_an_angle_one_polarisation():
    goal = [parse_goal("phase=90deg 500nm")]
    with pytest.raises(InputError, match="no single phase; give the base without its thickness"):
        make_merit(parse_stack("glass 4mm"), PALETTE, goal)
    with pytest.raises(InputError, match="needs s or p"):
        make_merit(parse_stack("glass"), PALETTE, [parse_goal("phase=90deg 500nm 45deg")])
    with pytest.raises(InputError, match="no light leaves"):
        make_merit(parse_stack("Ti"), PALETTE, [parse_goal("delay<1fs 500nm through")])


@pytest.mark.slow
def test_a_quarter_wave_retarder_is_found_and_holds():
    found = design(
        "glass", "retarder 633nm", "Ag,SiO2,TiO2", max_layers=7, effort=150, count=1, seed=2
    )
    assert found.met
    piece = found.designs[0].piece
    seen = solve(piece, [633.0], 45.0)
    assert float(seen.delta_deg[0]) == pytest.approx(90.0, abs=3.0)
    assert float(seen.R[0]) > 0.97
    (_, about) = found.designs[0].results
    assert (about.unit, about.met) == ("°", True)
    assert "delta=90deg 633nm at 45deg within" in found.summary()
    found.plot()


def test_the_worst_delay_between_the_points_is_found():
    # a cavity between two mirrors: its delay peaks in a line far narrower than the goal's grid
    pairs = [0, 1] * 5
    which = np.array([*pairs, 0, 0, *pairs[::-1], 0][::-1])
    quarter = np.where(which == 0, 600.0 / 4 / 1.46, 600.0 / 4 / 2.35)
    merit = make_merit(parse_stack("n=1.52"), PALETTE, [parse_goal("delay<5fs 550..650nm")])
    (coarse,) = merit.results(which, quarter)
    (checked,) = check_goals(merit, which, quarter)
    nm = np.linspace(550.0, 650.0, 40_001)
    films = " / ".join(
        f"n={1.46 if i == 0 else 2.35} {d}nm" for i, d in zip(which, quarter, strict=True)
    )
    truth = solve(parse_stack(f"{films} / n=1.52"), nm).group_delay_fs
    assert checked.most >= coarse.most
    assert checked.most == pytest.approx(float(truth.max()), rel=1e-3)


def test_errors_of_deposition_are_simulated_for_phases_too():
    merit = make_merit(parse_stack("n=1.52"), PALETTE, [parse_goal("phase=0deg 500nm")])
    best = merit.results(WHICH, FILMS_NM)[0]
    goal = parse_goal(f"phase={best.least:.3f}deg 500nm within 10deg")
    merit = make_merit(parse_stack("n=1.52"), PALETTE, [goal])
    errors = DepositionErrors(relative_percent=2.0, index_percent=1.0, angle_deg=2.0)
    found = simulate(
        merit, WHICH, FILMS_NM, errors=errors, samples=400, rng=np.random.default_rng(1)
    )
    assert 0.02 < found.yield_share < 0.98
    assert found.low_R.shape == found.wavelength_nm.shape
