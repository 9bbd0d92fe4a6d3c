"""What must hold of heats, laws and evaporation whatever the numbers: splits, units, monotony."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from oxhue.optics.deposition.gases import impingement_per_cm2_s, mean_free_path_cm, monolayer_time_s
from oxhue.optics.deposition.setup import tooling_factor
from oxhue.optics.deposition.vapour import evaporation_g_cm2_s, temperature_for_rate
from oxhue.optics.deposition.wire import wire_current_A, wire_materials, wire_temperature_C
from oxhue.optics.oxidation.growth import grow
from oxhue.optics.oxidation.laws import LAWS
from oxhue.optics.oxidation.log_file import read_log
from oxhue.optics.oxidation.metals import find_metal, metal_names
from oxhue.optics.oxidation.oxide import oxide_ratio
from oxhue.optics.oxidation.schedule import cool, hold, pass_spot, ramp

SHAPES = {
    "linear": 1.0, "parabolic": 2.0, "cubic": 3.0, "power": 2.6, "linear-parabolic": 90.0,
    "logarithmic": 6.0, "inverse logarithmic": 60.0, "limiting film": 40.0,
}  # fmt: skip
few = settings(deadline=None, max_examples=20)
heats = st.sampled_from(["hold", "ramp", "cool"])


def film(metal, heat):
    start = np.array([metal.native_nm])
    return float(grow(metal.regimes, metal.mean[None], heat, start_nm=start)[0])


@pytest.mark.parametrize("key", metal_names())
@given(at=st.floats(0.0, 1.0), cut=st.floats(0.05, 0.95), minutes=st.floats(1.0, 300.0))
@settings(deadline=None, max_examples=15)
def test_a_steady_heat_cut_anywhere_gives_the_same_film(key, at, cut, minutes):
    metal = find_metal(key)
    low, high = metal.range_C
    degrees, time_s = low + at * (high - low), 60.0 * minutes
    parts = hold(degrees, cut * time_s).then(hold(degrees, (1.0 - cut) * time_s))
    assert film(metal, parts) == pytest.approx(film(metal, hold(degrees, time_s)), rel=1e-9)


@pytest.mark.parametrize("key", ["Ti", "steel", "Cu", "Si"])
@given(cut=st.floats(0.05, 0.95), minutes=st.floats(5.0, 300.0))
@settings(deadline=None, max_examples=5)
def test_a_rise_cut_anywhere_gives_the_same_film(key, cut, minutes):
    metal = find_metal(key)
    low, high = metal.range_C
    middle, time_s = low + cut * (high - low), 60.0 * minutes
    parts = ramp(low, middle, cut * time_s).then(ramp(middle, high, (1.0 - cut) * time_s))
    # Where the law's shape changes with temperature, steps are taken; else the sum is exact to
    # the nodes that integrate it.
    assert film(metal, parts) == pytest.approx(film(metal, ramp(low, high, time_s)), rel=1e-5)


@given(kind=heats, low=st.floats(20.0, 300.0), more=st.floats(1.0, 400.0), time=st.floats(1.0, 1e5))
@few
def test_heats_shift_stretch_and_join(kind, low, more, time):
    made = {"hold": hold(low, time), "ramp": ramp(low, low + more, time)}
    heat = made.get(kind) or cool(low + more, low, time)
    moved = heat.shift(more).shift(-more)
    np.testing.assert_allclose(moved.temperature_C, heat.temperature_C, atol=1e-9)
    np.testing.assert_allclose(heat.stretch(4.0).stretch(0.25).time_s, heat.time_s, rtol=1e-12)
    assert heat.stretch(3.0).duration_s == pytest.approx(3.0 * heat.duration_s)
    joined = heat.then(hold(low, time))
    assert joined.duration_s == pytest.approx(heat.duration_s + time)
    assert joined.peak_C == heat.peak_C
    degrees, weight = heat.nodes
    assert weight.sum() == pytest.approx(heat.duration_s)
    assert heat.temperature_C.min() - 1e-9 <= degrees.min() <= degrees.max() <= heat.peak_C + 1e-9


@given(peak=st.floats(100.0, 900.0), ambient=st.floats(-20.0, 60.0), passing=st.floats(0.1, 1e3))
@few
def test_a_passing_spot_comes_as_it_goes_and_is_named_by_its_half_width(peak, ambient, passing):
    heat = pass_spot(peak, ambient, passing)
    kelvin = heat.temperature_C + 273.15  # near 0 °C a share of the degrees says nothing
    np.testing.assert_allclose(kelvin, kelvin[::-1], rtol=1e-12)
    assert heat.peak_C == pytest.approx(peak)
    half = 0.5 * (peak + ambient)
    rise, fall = (np.interp(half, t, s) for t, s in (
        (heat.temperature_C[:81], heat.time_s[:81]),
        (heat.temperature_C[:79:-1], heat.time_s[:79:-1]),
    ))  # fmt: skip
    assert fall - rise == pytest.approx(passing, rel=1e-3)


@pytest.mark.parametrize("name", LAWS)
@given(start=st.floats(1.0, 30.0), ahead=st.floats(0.0, 8.0), exposures=st.tuples(
    st.floats(1e-3, 50.0), st.floats(1e-3, 50.0)))  # fmt: skip
@few
def test_films_grow_and_keep_their_order(name, start, ahead, exposures):
    law, shape = LAWS[name], SHAPES[name]
    short, long = min(exposures), max(exposures)
    thin, thick = np.array([start]), np.array([start + ahead])
    grown = law.after(thin, np.array([short]), shape)[0]
    slack = 1e-9 * (start + ahead + 1.0)
    assert start - slack <= grown <= law.after(thin, np.array([long]), shape)[0] + slack
    assert grown <= law.after(thick, np.array([short]), shape)[0] + slack
    assert law.rate(thin, shape)[0] >= 0.0


@given(rows=st.lists(st.tuples(st.floats(0.5, 30.0), st.floats(20.0, 800.0)),
                     min_size=2, max_size=12))  # fmt: skip
@settings(deadline=None, max_examples=10)
def test_a_log_says_the_same_in_any_units(rows, tmp_path_factory):
    minutes = np.cumsum([step for step, _ in rows])
    celsius = np.array([degrees for _, degrees in rows])
    ways = {
        "time_s,temperature_C": (60.0 * minutes, celsius),
        "time [min],temp (°F)": (minutes, 1.8 * celsius + 32.0),
        "hours,temperature_K": (minutes / 60.0, celsius + 273.15),
    }
    folder, read = tmp_path_factory.mktemp("logs"), []
    for i, (head, columns) in enumerate(ways.items()):
        body = "\n".join(
            f"{t!r},{d!r}" for t, d in zip(*map(np.ndarray.tolist, columns), strict=True)
        )
        path = folder / f"log{i}.csv"
        path.write_text(f"{head}\n{body}\n", encoding="utf-8")
        read.append(read_log(path))
    for other in read[1:]:
        np.testing.assert_allclose(np.diff(other.time_s), np.diff(read[0].time_s), rtol=1e-9)
        np.testing.assert_allclose(other.temperature_C, read[0].temperature_C, atol=1e-9)


@given(oxide_nm=st.floats(0.0, 500.0), factor=st.floats(0.1, 10.0))
@few
def test_metal_used_and_mass_go_with_the_oxide(oxide_nm, factor):
    ratio = oxide_ratio("Ti", "TiO2", 1)
    assert ratio.metal_used_nm(factor * oxide_nm) == pytest.approx(
        factor * float(ratio.metal_used_nm(oxide_nm))
    )
    assert float(ratio.metal_used_nm(oxide_nm)) * ratio.volume_ratio == pytest.approx(oxide_nm)
    assert float(ratio.mass_gain_ug_cm2(oxide_nm)) >= 0.0


@given(computed=st.floats(1.0, 1e3), runs=st.lists(st.floats(1.0, 1e3), min_size=1, max_size=4))
@few
def test_tooling_factors_of_runs_multiply(computed, runs):
    used, promised = 1.0, computed
    for measured in runs:
        used, promised = tooling_factor(promised, measured, used=used), measured
    assert used == pytest.approx(runs[-1] / computed)


@given(log_mbar=st.floats(-9.0, 0.0), kelvin=st.floats(250.0, 600.0), mass=st.floats(2.0, 200.0),
       factor=st.floats(1.1, 100.0))  # fmt: skip
@few
def test_gas_goes_with_its_pressure(log_mbar, kelvin, mass, factor):
    mbar = 10.0**log_mbar
    hits = float(impingement_per_cm2_s(mbar, mass, kelvin))
    assert float(impingement_per_cm2_s(factor * mbar, mass, kelvin)) == pytest.approx(factor * hits)
    # Kinetic theory: hits fall with the square root of mass and temperature.
    assert float(impingement_per_cm2_s(mbar, 4.0 * mass, kelvin)) == pytest.approx(hits / 2.0)
    assert float(impingement_per_cm2_s(mbar, mass, 4.0 * kelvin)) == pytest.approx(hits / 2.0)
    assert float(monolayer_time_s(factor * mbar, mass, kelvin)) * hits * factor == pytest.approx(
        1e15
    )
    path = mean_free_path_cm({"N2": mbar}, kelvin)
    assert mean_free_path_cm({"N2": factor * mbar}, kelvin) == pytest.approx(path / factor)


@pytest.mark.parametrize("material", wire_materials())
@given(celsius=st.floats(900.0, 1500.0), diameter=st.floats(0.3, 2.0), more=st.floats(5.0, 100.0))
@settings(deadline=None, max_examples=8)
def test_wire_current_and_temperature_undo_each_other(material, celsius, diameter, more):
    current = float(wire_current_A(material, diameter, celsius))
    assert float(wire_temperature_C(material, diameter, current)) == pytest.approx(celsius, abs=0.5)
    assert float(wire_current_A(material, diameter, celsius + more)) > current
    assert float(wire_current_A(material, 4.0 * diameter, celsius)) == pytest.approx(
        8.0 * current, rel=1e-6
    )


@pytest.mark.parametrize("material", ["Al", "Ti", "Cr", "Cu"])
@given(log_rate=st.floats(-7.0, -4.0), factor=st.floats(1.2, 20.0))
@settings(deadline=None, max_examples=6)
def test_a_rate_and_its_source_temperature_undo_each_other(material, log_rate, factor):
    found = temperature_for_rate(material, 10.0**log_rate, 50.0)
    back = float(evaporation_g_cm2_s(found.pressure_mbar, found.temperature_C, 50.0))
    assert back == pytest.approx(10.0**log_rate, rel=1e-6)
    faster = temperature_for_rate(material, factor * 10.0**log_rate, 50.0)
    assert faster.temperature_C > found.temperature_C
