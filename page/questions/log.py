"""The run log: what was done and seen, what it taught, and the next run that follows."""

from __future__ import annotations

import shutil
from dataclasses import asdict
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from ...optics.errors import InputError
from ...optics.inference.reading import parse_reading
from ...optics.log.database import is_made, log_path
from ...optics.log.facts import DONE, KINDS, OBSERVED, check_photo_name
from ...optics.log.log import Log
from ...optics.log.photos import kept_name, photo_folder
from ...optics.log.records import LoggedRun
from ...optics.log.spectra import colour_words, describe_spectrum
from ...optics.report.blocks import document_dict
from ...optics.report.style import use_own_style
from ...optics.result import Result
from ..fields import Fields
from .faces import chart_of, face_asked, leave_as

MOST_RUNS = 100
_ENDINGS = {"JPEG": ".jpg", "MPO": ".jpg", "PNG": ".png", "TIFF": ".tif", "WEBP": ".webp",
            "BMP": ".bmp", "HEIF": ".heic"}  # fmt: skip


def log_question(fields: Fields) -> dict[str, Any]:
    """The newest runs, newest first, with the colours that were seen; and the setups."""
    path, face = log_path(), face_asked(fields)
    if not path.exists():
        return {"answer": {"log": str(path), "setups": [], "runs": []}, "trusted": True}
    with Log.open(path, write=False) as log:
        held = log.runs(newest=MOST_RUNS if face == "page" else None)
    if face != "page":
        return leave_as(face, held, asked=["Asked: the runs of this log."])
    runs = [_drawn(run) for run in held.runs[::-1]]
    setups = [{"setup": one.setup, "kind": one.setup_kind} for one in held.setups]
    return {"answer": {"log": held.log, "setups": setups, "runs": runs}, "trusted": True}


def record_question(fields: Fields, photo: Path | None = None) -> dict[str, Any]:
    """Record a run with what was seen of its piece; a setup that is not held yet is made.

    With ``run`` what was seen goes to a piece of that run instead. A photo is kept with the log.
    """
    looks: dict[str, Any] = {name: text for name in OBSERVED if (text := fields.text_if(name))}
    piece, on = fields.text("piece", "piece"), fields.text_if("on")
    with Log.open() as log, TemporaryDirectory(prefix="oxhue-photo-") as folder:
        if photo is not None:
            named = _with_ending(photo, Path(folder))
            looks = {"photo": named} | looks
            if "link" in looks:  # it outlives the photo's name of today
                looks["link"] = looks["link"].replace(photo.parent.name, kept_name(named))
        run = _run_meant(log, fields)
        if looks:
            try:
                run = log.saw(run.run, piece=piece, on=on, **looks)
            except InputError:
                if "run" not in fields:
                    log.undo()  # the run goes with what was refused: sent again it is one run
                raise
    return {"answer": _drawn(run), "trusted": True}


def _run_meant(log: Log, fields: Fields) -> LoggedRun:
    """The run that is added to, or a new one of a setup."""
    if "run" in fields:
        return log.show(fields.whole("run", 1, 1, 2**31))
    setup, kind = fields.text("setup"), fields.text("kind", "kiln")
    if kind not in KINDS:
        raise InputError(f"a setup is a {', '.join(KINDS[:-1])} or {KINDS[-1]}, not {kind!r}")
    done: dict[str, Any] = {name: text for name in DONE[kind] if (text := fields.text_if(name))}
    if setup not in {one.setup for one in log.runs(newest=1).setups}:
        log.setup(setup, kind=kind)
    like = fields.whole("like", 1, 1, 2**31) if "like" in fields else None
    return log.record(setup, like=like, **done)


def _with_ending(photo: Path, folder: Path) -> Path:
    """A photo as it was sent under a name with the ending of what it is."""
    from ...optics.images.decode import format_of

    ending = _ENDINGS.get(format_of(photo))
    if ending is None:
        raise InputError("the log keeps photos as JPEG, PNG, TIFF, WebP, BMP or HEIC")
    return shutil.copyfile(photo, folder / f"photo{ending}")


def taken_up(name: str) -> Path:
    """The file of a photo that the log holds.

    Raises
    ------
    InputError
        If it is not the name of one.
    """
    check_photo_name(name, "the photo")
    photo = photo_folder(log_path()) / name
    if not photo.is_file():
        raise InputError("this photo is not with the log")
    return photo


def learn_question(fields: Fields) -> dict[str, Any]:
    """What the runs of a setup teach: expected and made, odds before and after, what changed."""
    with Log.open(write=is_made(log_path())) as log:
        learnt = log.learn(fields.text("setup"), metal=fields.text_if("metal"))
    return _shown(fields, learnt, f"what the runs of {fields.text('setup')} teach")


def next_question(fields: Fields) -> dict[str, Any]:
    """The next run of a setup for what is wanted: its odds, what limits them, each knob turned."""
    with Log.open(write=is_made(log_path())) as log:
        found = log.next(
            fields.text("setup"), want=fields.text("want"), metal=fields.text_if("metal"),
            base_pressure=fields.text_if("base_pressure"),
        )  # fmt: skip
    asked = f"{fields.text('want')} from {fields.text('setup')}, what next"
    return _shown(fields, found, asked)


def _shown(fields: Fields, found: Result, asked: str) -> dict[str, Any]:
    """An answer as its document with its charts, or in the form it is kept in."""
    if (face := face_asked(fields)) != "page":
        return leave_as(face, found, asked=[f"Asked: {asked}."])
    use_own_style()
    document = found.document()
    charts = [
        {**chart_of(one.draw(), one.caption), "caption": one.caption} for one in document.figures
    ]
    return {"answer": {**document_dict(document), "charts": charts}, "trusted": True}


def _drawn(run: LoggedRun) -> dict[str, Any]:
    """A run with a colour to show for each one that was seen."""
    drawn = asdict(run)
    for piece in drawn["pieces"]:
        for noted in piece["observations"]:
            if noted["what"] in ("seen", "behind"):
                noted["srgb_hex"] = parse_reading(noted["text"], None).middle_hex
            elif noted["what"] == "spectrum":
                noted["srgb_hex"] = parse_reading(colour_words(noted["text"])[1], None).middle_hex
                noted["text"] = describe_spectrum(noted["text"])
    return drawn
