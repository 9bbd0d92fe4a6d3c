"""Numbers that an answer rests on, kept as they were: none of them changes by accident.

A constant of a model that moves by a little fails no test of a tendency. Where a model is changed
for a reason, ``OXHUE_KEEP_NUMBERS=1 python -m pytest FILE`` keeps the new numbers, to be read as a
difference before they are committed.
"""

import json
import os
from pathlib import Path

import numpy as np
import pytest

FOLDER = Path(__file__).with_name("snapshots") / "numbers"
_CLOSE = 1e-5  # other processors and libraries differ in the last digits


def assert_as_kept(name, found):
    """Compare named numbers, or nested lists and tables of numbers and words, with those kept."""
    path, flat = FOLDER / f"{name}.json", _flat(found)
    if os.environ.get("OXHUE_KEEP_NUMBERS"):
        path.parent.mkdir(exist_ok=True)
        lines = (f"{json.dumps(key)}: {json.dumps(one)}" for key, one in flat.items())
        path.write_text("{\n" + ",\n".join(lines) + "\n}\n", encoding="utf-8")
    kept = json.loads(path.read_text(encoding="utf-8"))
    assert flat.keys() == kept.keys()
    differ = {
        key: (one, kept[key]) for key, one in flat.items()
        if one != (kept[key] if isinstance(kept[key], str | None | bool)
                   else pytest.approx(kept[key], rel=_CLOSE, abs=1e-9))
    }  # fmt: skip
    assert differ == {}, "found, and kept"


def _flat(found, before=""):
    """Names of all numbers and words within, with seven digits."""
    if isinstance(found, np.ndarray | np.generic):
        found = found.tolist()
    if isinstance(found, dict):
        parts = {f"{before}.{key}" if before else str(key): one for key, one in found.items()}
    elif isinstance(found, list | tuple):
        if all(isinstance(one, float) for one in found):
            return {before: [float(f"{one:.7g}") for one in found]}
        parts = {f"{before}[{i}]": one for i, one in enumerate(found)}
    else:
        return {before: float(f"{found:.7g}") if isinstance(found, float) else found}
    return {key: one for name, part in parts.items() for key, one in _flat(part, name).items()}
