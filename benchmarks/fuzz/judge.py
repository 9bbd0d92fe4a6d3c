"""One run in this process, and whether its ending is one of those allowed."""

from __future__ import annotations

import io
import json
import os
import re
import time
import traceback
import warnings
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

from oxhue.optics.errors import InputError

LIMIT_S = 10.0
LONG_S = 60.0  # for the one job that is known to take long: spots of one photo read together
LIMIT_MB = 1000.0
_WRITTEN = ("chart written: ", "kiln written: ", "report written: ")
_UNFIT = re.compile(r"\d+ of \d+ readings fit no film in question")
_NO_NUMBER = re.compile(r"(?<![\w#-])(?:nan|inf)(?![\w-])", re.IGNORECASE)


@dataclass(frozen=True)
class Ending:
    """How a run ended.

    Attributes
    ----------
    code : int or None
        Exit code; None where an exception came out.
    wrong : str
        What is not allowed about it, empty where all is well.
    seconds : float
        Processor time.
    """

    code: int | None
    wrong: str
    seconds: float


def run(action: Callable[[], int | None], folder: Path, asked: list[str]) -> Ending:
    """Run an action that returns an exit code, in an empty folder, and judge its ending.

    Parameters
    ----------
    action : callable
    folder : Path
        Working folder; what the action may write lies there.
    asked : list of str
        The command line, for what it says about the form of the answer.
    """
    before = set(os.listdir(folder))
    out, err = _stream("strict"), _stream("backslashreplace")
    began = time.process_time()
    code, wrong = None, ""
    with redirect_stdout(out), redirect_stderr(err), warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            code = action()
        except InputError as error:  # a reader called by itself
            code = 2
            print(f"oxhue: {error}", file=err)
        except BaseException:  # whatever it is, it is what the run is for
            wrong = "".join(traceback.format_exc(limit=-12))
    seconds = time.process_time() - began
    new = {*os.listdir(folder)} - before
    if not wrong:
        wrong = _wrong_with(code, _text(out), _text(err), asked, new)
    if not wrong and seconds > limit_s(asked):
        wrong = f"took {seconds:.1f} s of processor time"
    return Ending(code, wrong, seconds)


def limit_s(asked: list[str]) -> float:
    """The processor time a command line may take [s]."""
    learns = asked[:1] == ["log"] and bool({"learn", "next"} & {*asked[1:3]})
    return LONG_S if "--one-piece" in asked or learns else LIMIT_S


def _wrong_with(code: int | None, out: str, err: str, asked: list[str], new: set[str]) -> str:
    """What is not allowed about an ending; empty if nothing is."""
    said = err.splitlines()
    if any(name.startswith(".") for name in new):
        return f"left the temporary file {sorted(new)}"
    if code == 2:
        if out:
            return f"refused, yet wrote to stdout: {out[:200]!r}"
        if len(said) != 1 or not said[0].startswith("oxhue: ") or len(said[0]) < 12:
            return f"refused in other than one sentence: {err[:500]!r}"
        return f"refused, yet wrote {sorted(new)}" if new else ""
    if code not in (0, 3):
        return f"exit code {code}; stderr {err[:500]!r}"
    if any(not line.startswith(_WRITTEN) and not _UNFIT.fullmatch(line) for line in said):
        return f"answered, yet said on stderr: {err[:500]!r}"
    return _wrong_answer(out, asked)


def _wrong_answer(out: str, asked: list[str]) -> str:
    if asked == [] or "--help" in asked:
        return ""
    if not out.strip():
        return "answered with nothing"
    if "--json" in asked and "--version" not in asked:
        try:
            whole = json.loads(out, parse_constant=_refuse)
        except ValueError as error:
            return f"JSON does not parse: {error}: {out[:200]!r}"
        return "" if isinstance(whole, dict) and out.count("\n") == 1 else "JSON is no one object"
    shown = _NO_NUMBER.search(out)
    if shown and shown[0] not in " ".join(asked):
        return f"shows {out[max(0, shown.start() - 60) : shown.end() + 20]!r}"
    return ""


def _refuse(text: str) -> float:
    raise ValueError(f"{text} is no JSON")


def _stream(errors: str) -> io.TextIOWrapper:
    """A stream that encodes as a terminal's does."""
    return io.TextIOWrapper(io.BytesIO(), encoding="utf-8", errors=errors, newline="\n")


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    buffer = stream.buffer
    assert isinstance(buffer, io.BytesIO)
    return buffer.getvalue().decode("utf-8")
