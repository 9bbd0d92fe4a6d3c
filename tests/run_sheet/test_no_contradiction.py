"""No pair of numbers in one answer contradicts another, over drawn sheets."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from oxhue.optics.report.document import Table, words_of
from oxhue.optics.run_sheet.run_sheet import run_sheet
from oxhue.optics.units import format_duration

SHEETS = 60
METALS = (
    "Ti", "Al", "Cu", "Ag", "Au", "Pd", "Cr", "Ni", "brass", "stainless", "Zr", "Zn", "In",
    "bronze", "nichrome",
)  # fmt: skip
OVER = ("", "MgF2 90nm / ", "TiO2 50nm / ", "SiO2 80nm / Ti 15nm / ")
GASES = ("air", "water")
BASES = ("glass 1mm", "glass 4mm", "PMMA 3mm", "Si")


def drawn(seed):
    """A sheet as people ask for them: any source, gas told in one of four ways, rate or not."""
    pick = np.random.default_rng(seed)
    metal, source = pick.choice(METALS), pick.choice(["boat", "wire", "sputter", "point"])
    nm = float(pick.choice([8, 20, 60, 80, 200]))
    stack = f"{pick.choice(OVER)}{metal} {nm:g}nm / {pick.choice(BASES)}"
    setup = {"source": source, "distance": f"{pick.choice([5, 12, 30])}cm"}
    rate = None if pick.random() < 0.4 else f"{10 ** pick.uniform(-2, 1):.3g}nm/s"
    if source == "wire":
        setup |= {"wire_diameter": f"{pick.choice([0.3, 0.4, 0.6, 0.8])}mm", "wire_length": "150mm"}
        if pick.random() < 0.4:
            setup |= {"coil": "6mm,1.6mm"}
        if pick.random() < 0.5:
            setup |= {"current": f"{pick.uniform(2, 14):.2f}A"}
    if source == "sputter" and metal in ("Ti", "Al", "Cu", "Ag") and pick.random() < 0.5:
        setup |= {"voltage": "450V", "current": "60mA"}
    gas = [
        {"pressure": f"{10 ** pick.uniform(-7, -1.2):.2g}mbar", "gas": pick.choice(GASES)},
        {"working_gas": "argon", "working_pressure": "8e-3mbar", "base_pressure": "2e-5mbar"},
        {"leak": f"{10 ** pick.uniform(-5, -2):.2g}mbar.l/s", "pumping": "2l/s",
         "working_gas": "argon", "working_pressure": "5e-2mbar"},
        {"pumping": "30l/s", "getter": "0.1m2"},
    ][pick.integers(4)]  # fmt: skip
    return stack, {"setup": setup, "rate": rate, "plastic": bool(pick.random() < 0.2), **gas}


def each_third(count):
    """Numbers of sheets: every third each time, the others with the slow tests."""
    slow = pytest.mark.slow
    return [n if n % 3 == 0 else pytest.param(n, marks=slow) for n in range(count)]


@pytest.mark.parametrize("seed", each_third(SHEETS))
def test_no_pair_of_numbers_contradicts_another(seed):
    stack, asked = drawn(seed)
    sheet = run_sheet(stack, asked.pop("setup"), **asked)
    for step in sheet.layers:
        check_step(step, sheet)
    check_run(sheet)


def check_step(step, sheet):
    """Numbers of one layer against each other."""
    assert step.time_s * step.rate_nm_s == pytest.approx(step.thickness_nm)
    assert step.moments == () or step.moments[-1].time_s == pytest.approx(step.time_s)
    assert step.possible == (not step.plan.why_not)
    if step.possible and step.asked_nm_s is not None:
        assert step.rate_nm_s == pytest.approx(step.asked_nm_s * tooled(sheet))
    even = sheet.uniformity
    assert step.thinnest_nm == pytest.approx(even.lowest * step.thickness_nm)
    assert even.lowest <= 1.0 + 1e-9
    check_wire(step)
    if step.states is None:
        assert step.stays_metal is None
        assert step.arrival_ratio is None
        assert list(step.witness) == ["film"]
        return
    assert sum(step.states.values()) == pytest.approx(1.0)
    shares = list(step.states.values())
    assert shares == sorted(shares, reverse=True)
    assert step.stays_metal == (step.states["metal"] == max(shares))
    assert next(iter(step.witness)) == step.state
    assert step.oxygen_per_metal <= step.arrival_ratio + 1e-9
    seen = step.witness[step.state]
    assert (seen is None) == (step.moments == ())
    if seen is not None:
        last = step.moments[-1]
        assert (last.stack, last.thickness_nm, last.ohms_range) == (
            seen.stack, seen.thickness_nm, seen.ohms_range,
        )  # fmt: skip
        assert last.reflected.srgb_hex == seen.reflected.srgb_hex
    assert (step.limits is None) == (step.states["metal"] >= 0.9)
    if step.limits is not None and step.limits.above_nm_s is not None:
        assert step.limits.above_nm_s > step.rate_nm_s
    if step.limits is not None and step.limits.below_mbar is not None:
        assert step.limits.below_mbar < sheet.gas.jar.base_mbar
    check_remedies(step)


def check_remedies(step):
    """What a change would make begins at the state told, and ends within what the source gives."""
    computed = [one for one in step.remedies if one.computed]
    assert not computed or step.states["metal"] < 0.9
    for one in computed:
        assert one.metal_before == step.states["metal"]
        assert one.oxygen_before == step.oxygen_per_metal
        assert 0.0 <= one.metal_before <= one.metal_after <= 1.0
        assert (
            f"{round(100.0 * one.metal_before)} %" in one.change
            or "1 %" in one.change
            or ("99 %" in one.change)
        )
    fastest = None if step.wire is None or step.wire.carries else step.wire.fastest_nm_s
    if fastest is not None and 3.0 * step.rate_nm_s > fastest * (1.0 + 1e-6):
        assert not any("three times as fast" in one.do for one in computed)
        assert (
            step.limits is None
            or step.limits.above_nm_s is None
            or (step.limits.above_nm_s <= fastest)
        )


def check_wire(step):
    wire = step.wire
    if wire is None or wire.current_A is None:
        return
    assert wire.current_A < wire.melting_A
    assert wire.temperature_C == pytest.approx(step.source_temperature_C, abs=1.5)
    assert wire.last_A is None or wire.last_A <= wire.current_A
    if not wire.carries:
        assert step.rate_nm_s <= wire.fastest_nm_s * (1.0 + 1e-6)
        rates = [row.rate_nm_s for row in wire.table]
        assert rates == sorted(rates)
        assert all(row.current_A < wire.melting_A for row in wire.table)
    if wire.stated_A is not None and step.possible and step.asked_nm_s is None:
        assert wire.current_A == pytest.approx(wire.stated_A, rel=1e-3)


def tooled(sheet):
    return sheet.tooling if sheet.source.kind == "sputter" else 1.0


def check_run(sheet):
    """The printed answer against the numbers: headline, table of steps, table of looks."""
    left = [step for step in sheet.layers if not step.made]
    headline = str(sheet)
    whole = sum(step.time_s for step in left)
    assert sheet.possible.time_s == pytest.approx(whole)
    assert format_duration(whole) in headline
    assert sheet.possible.as_asked == all(step.possible for step in left)
    assert sheet.trusted == sheet.possible.as_asked
    for layer, step in zip(sheet.possible.layers, left, strict=True):
        assert (layer.rate_nm_s, layer.time_s) == (step.rate_nm_s, step.time_s)
    check_colours(sheet, headline)
    stays = all(step.stays_metal in (None, True) for step in left)
    assert ("likelier" in headline) == (not stays)
    if any(step.stays_metal for step in left) and stays:
        assert "metallic" in headline
    tables = [block for block in sheet.document().blocks if isinstance(block, Table)]
    steps, looks = tables[0], tables[-1]
    for row, step in zip(steps.rows, sheet.layers, strict=True):
        assert format_duration(step.time_s) in map(words_of, row)
    for row in looks.rows:
        number, state = int(words_of(row[0]).split()[0]), words_of(row[1])
        step = sheet.layers[number - 1]
        if match := re.match(r"(\w+) (\d+) %", state):
            share = {**(step.states or {}), "nitride": step.nitride}[match[1]]
            assert share == pytest.approx(int(match[2]) / 100.0, abs=0.0051)
    assert "nan" not in sheet.summary()
    assert all(math.isfinite(step.time_s) for step in left)


def check_colours(sheet, headline):
    """The finished colour is that of the last look, where nothing lies on the back or on top."""
    if sheet.finished is None:
        assert "not known" in headline
        return
    assert f"{sheet.finished.name}, {sheet.finished.srgb_hex}" in headline
    last = sheet.layers[-1].witness[sheet.layers[-1].state]
    assert str(last.reflected.srgb_hex) == sheet.finished.srgb_hex
    assert sheet.rim_delta_e is not None
