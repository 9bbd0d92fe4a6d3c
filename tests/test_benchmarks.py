"""The benchmarks run, check agreement before they time, and write their page; no time is tested."""

from __future__ import annotations

import json

import numpy as np
import pytest

from benchmarks import jobruns, scale
from benchmarks.__main__ import main
from benchmarks.enginecases import library
from benchmarks.growth import Growth, draw
from benchmarks.results import CaseResult, Finding, as_markdown, machine
from benchmarks.timing import DisagreementError, Spread, agree, interleaved, ratio


@pytest.mark.parametrize(
    "case",
    [1, pytest.param(2, marks=pytest.mark.slow), 3, pytest.param(4, marks=pytest.mark.slow), 5],
)
def test_engine_cases_run_and_agree(case, capsys):
    if not hasattr(library(), "multilayer_tmm"):
        pytest.skip("this colour-science has no multilayer function yet")
    main(["--quick", "--case", str(case)])
    said = capsys.readouterr().out
    assert "within" in said
    assert said.count(" x") >= 2


def test_the_case_of_designs_runs(capsys):
    main(["--quick", "--case", "9"])
    said = capsys.readouterr().out
    assert "one thread and two: within 0e+00" in said
    assert "scipy's least squares" in said


@pytest.mark.slow
def test_jobs_run():
    assert jobruns.gauge(12)["many_s"] > 0.0
    assert jobruns.map_(5_000)["error_nm"] < 3.0
    assert jobruns.sweep(50)["seconds"] >= 0.0


def test_what_differs_is_not_timed():
    assert agree("same", np.ones(3), np.ones(3) + 1e-12) == "same: within 1e-12"
    with pytest.raises(DisagreementError, match=r"other: they differ by 1\.0e-06"):
        agree("other", np.ones(3), np.ones(3) + 1e-6)
    with pytest.raises(DisagreementError):
        agree("not a number", np.ones(1), np.array([np.nan]))


def test_rounds_go_in_turns_and_ratios_within_them():
    order = []
    taken = interleaved({"a": lambda: order.append("a"), "b": lambda: order.append("b")}, 0.0, 3)
    assert order == ["a", "b"] * 4  # one round before the clock runs
    assert taken["a"].shape == (3,)
    found = ratio(np.array([2.0, 4.0, 6.0]), np.array([1.0, 2.0, 3.0]), 5.0)
    assert (found.low, found.median, found.high) == (10.0, 10.0, 10.0)


def test_the_page_says_goals_growth_and_no_machine(tmp_path):
    figures = (
        Finding("fast", Spread(50.0, 45.0, 60.0), least=40.0),
        Finding("small", Spread(700.0, 690.0, 710.0), "MB", most=600.0),
    )
    sizes = np.array([1.0, 10.0, 100.0, 1000.0])
    line = Growth("stacks", "all else held", sizes, 2e-6 * sizes + 1e-5)
    draw([line], tmp_path / "growth.png")
    page = as_markdown([CaseResult(2, "Stacks", ("same",), figures)], [str(line)], "growth.png")
    assert "| fast | 50 (45 to 60) x | ≥ 40 x: met |" in page
    assert "| small | 700 (690 to 710) MB | ≤ 600 MB: missed |" in page
    assert "1 to 1,000" in page
    assert (tmp_path / "growth.png").stat().st_size > 5_000
    assert not any("/" in part.replace("load average", "") for part in machine())


@pytest.mark.parametrize("job", ["stacks", "samples", "lines"])
def test_costs_of_units_are_measured(job, capsys):
    scale.main(["--bare", job, "--quick"])
    found = json.loads(capsys.readouterr().out)
    assert all(value > 0.0 or unit == "ms" for value, unit in found.values())
    assert found["memory"][1] == "MB"
