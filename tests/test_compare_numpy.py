"""The tool that compares the numbers of two environments tells equal ones from others."""

import numpy as np
import pytest

from tools import compare_numpy


def test_equal_results_pass_and_others_do_not(tmp_path, monkeypatch, capsys):
    def part():
        return {"R/T": np.array([0.5, np.inf, 1e-20])}

    def _moved():
        return {"R/T": np.array([0.5 + 1e-11, np.inf, 1e-20])}

    for name, made in (("one", part), ("same", part), ("moved", _moved)):
        made.__name__ = "_part"
        monkeypatch.setattr(compare_numpy, "PARTS", (made,))
        compare_numpy.main(["write", str(tmp_path / name)])
    for name, code in (("same", 0), ("moved", 1)):
        with pytest.raises(SystemExit) as ended:
            compare_numpy.main(["compare", str(tmp_path / "one"), str(tmp_path / name)])
        assert ended.value.code == code
    assert "2.0e-11  part, R|T" in capsys.readouterr().out


def test_the_rooms_give_numbers():
    for part in (compare_numpy._colour, compare_numpy._growth):
        found = part()
        assert found
        assert all(np.isfinite(one).all() for one in found.values())
