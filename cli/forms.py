"""The verbs as forms, for the page: what each may be given, and its answer without a terminal."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable, Mapping
from contextlib import ExitStack
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import typer

from .options import LISTENER, AnswerTaker

WITHOUT_FORM = {
    "demo": "it is a tour of the terminal",
    "page": "it is what the forms are on",
    "schema": "it is for programs",
    "log export": "the page saves the log together with its photos",
    "log import": "the page takes in what it saved, photos and all",
}
"""Verbs that no form has, each with the reason; all others are answered without a terminal."""

LEFT_OUT = {
    "as_json": "the page shows the answer, and offers its JSON",
    "as_csv": "the page offers every table as CSV",
    "as_lines": "the page offers JSON",
    "chart": "the page draws it",
    "report": "the page offers it",
    "save": "the page offers the kiln in its own panel",
    "out": "the page offers the files of a map",
    "cluster": "a browser must not choose where code runs",
    "trusted": "a browser must not choose where code runs",
    "log_file": "the page keeps one log, the one it was started with",
}
"""Parameters that no form has, each with the reason."""

LEFT_OUT_OF = {
    "log saw": dict.fromkeys(
        ("photo", "patch", "white"),
        "the room's own form takes the photo, and the room of thickness reads a spot of it",
    )
}
"""The same of one verb."""

WRITES = ("log setup", "log run", "log saw", "log undo")
"""Verbs that record something: asked twice they do it twice."""

FACES = ("page", "report", "chart", "csv")
_LEAVES = {"report": ".html", "chart": ".svg"}  # asked of the verb, which then computes all of it
_FILES = ("FILE", "PHOTO")
_LONGEST_TEXT = 2_000
_MOST_TEXTS = 200
_LONGEST_NAME = 60


def describe_verbs() -> list[dict[str, Any]]:
    """Every verb offered: its name, what it answers, and its fields in the order of the help."""
    commands = _commands()
    return [_form(name, commands[name]) for name in list_offered()]


def list_offered() -> list[str]:
    """Verbs that are answered without a terminal, in the order of the help."""
    return [name for name in _commands() if name not in WITHOUT_FORM]


def _commands() -> Mapping[str, Any]:
    from .main import _parser

    found: dict[str, Any] = {}
    for name, command in _parser().commands.items():
        parts = getattr(command, "commands", None)  # those of the log
        found |= (
            {f"{name} {one}": part for one, part in parts.items()} if parts else {name: command}
        )
    return found


def parameters_of(name: str, command: Any) -> list[Any]:
    """What a form of a verb has a field for."""
    left_out = LEFT_OUT.keys() | LEFT_OUT_OF.get(name, {}).keys()
    return [one for one in command.params if one.name not in left_out]


def _form(name: str, command: Any) -> dict[str, Any]:
    said, _, example = (command.help or "").partition("Example:")
    fields = [_field(one) for one in parameters_of(name, command)]
    return {"verb": name, "words": said.strip().splitlines()[0], "example": example.strip(),
            "writes": name in WRITES, "fields": fields}  # fmt: skip


def _field(parameter: Any) -> dict[str, Any]:
    """A parameter as a field: its label, its kind, and what it is when nothing is entered."""
    default = parameter.default
    return {
        "name": parameter.name,
        "label": _label(parameter),
        "kind": _kind(parameter),
        "help": getattr(parameter, "help", None) or "",
        "metavar": parameter.metavar or "",
        "panel": getattr(parameter, "rich_help_panel", None) or "",
        "needed": bool(parameter.required),
        "otherwise": "" if default is None or default is False else str(default),
    }


def _label(parameter: Any) -> str:
    spoken = max(parameter.opts, key=len).lstrip("-").replace("-", " ")
    return f"{spoken[0].upper()}{spoken[1:]}"


def _kind(parameter: Any) -> str:
    if getattr(parameter, "is_flag", False):
        return "flag"
    if parameter.metavar in _FILES:
        return "photo" if parameter.name == "photo" else "file"
    return "texts" if parameter.multiple else "text"


def run_verb(
    verb: object,
    given: object,
    files: Mapping[str, object],
    photo: Path | None,
    *,
    face: str = "page",
    tell: Callable[[str], None] = lambda _: None,
) -> dict[str, Any]:
    """The answer of a verb.

    Parameters
    ----------
    verb : str
        One of :func:`list_offered`.
    given : mapping of str to str, bool or list of str
        By the names of the verb's parameters.
    files : mapping of str to mapping
        The ``name`` and ``text`` of each file, by the name of the parameter that takes it.
    photo : Path, optional
        A photo that was sent before.
    face : str
        One of ``FACES``: blocks to draw, a report, a chart, or the tables as CSV.
    tell : callable
        Told how far the work is.

    Returns
    -------
    dict
        With ``trusted`` and ``command``, the question as one would type it; and for a page
        ``answer`` (what ``--json`` prints) and ``document``, else the face by its name, a text.

    Raises
    ------
    InputError
        If the question is refused.
    """
    from ..optics.errors import InputError

    offered = list_offered()
    if verb not in offered or face not in FACES:
        raise InputError(f"the page asks one of {', '.join(offered)}, shown as {', '.join(FACES)}")
    if not isinstance(given, Mapping):
        raise InputError("a question is a table of fields")
    if verb in WRITES and face != "page":
        raise InputError(f"'{verb}' records something; its answer is shown once, on the page")
    with TemporaryDirectory(prefix="oxhue-verb-") as folder:
        typed = _typed(str(verb), given, files, photo, Path(folder))
        heard = AnswerTaker(tell)
        leaves = [f"--{face}={folder}/{face}{_LEAVES[face]}"] if face in _LEAVES else []
        within = photo.parent if photo else Path(folder)
        context = _ask(str(verb), [*leaves, *typed], heard, within)
    if heard.result is None:
        raise InputError(f"'{verb}' gives no answer that the page can show with these fields")
    sent = re.compile(rf"{re.escape(folder)}/\w+/")
    shown = [sent.sub("", word).replace(f"{photo}", "photo.jpg") for word in typed]
    line = shlex.join(["oxhue", *str(verb).split(), *shown])
    return {"trusted": heard.trusted, "command": line} | _face(face, heard, context, line)


def _face(face: str, heard: AnswerTaker, context: Any, command: str) -> dict[str, Any]:
    """The answer as it is shown."""
    from ..page.questions.faces import leave_as
    from .reporting import question_blocks

    assert heard.result is not None
    assert heard.listed is not None
    if face == "page":
        from ..optics.report.blocks import document_dict

        answer = heard.listed.to_dict()
        return {"answer": answer, "document": document_dict(heard.result.document())}
    return leave_as(
        face, heard.result, asked=question_blocks(context), command=[command],
        pictures=heard.pictures,
    )  # fmt: skip


def _typed(
    verb: str,
    given: Mapping[str, Any],
    files: Mapping[str, object],
    photo: Path | None,
    folder: Path,
) -> list[str]:
    """The fields as they would be typed; what was sent as a file is written to the folder."""
    from ..optics.errors import InputError, suggest_nearest

    command = _commands()[verb]
    parameters = {one.name: one for one in parameters_of(verb, command)}
    for name in (*given, *files):
        if name not in parameters:
            hint = suggest_nearest(str(name), list(parameters))
            raise InputError(f"this form has no field {name!r:.80}{hint and f'; {hint}'}")
    for name in given:
        if _kind(parameters[name]) in ("file", "photo"):
            raise InputError(f"the field {name!r} takes what stands in a file, not a file's name")
    # What a map leaves goes next to its photo, never into the folder the page was started from.
    options = [f"--out={photo.parent / 'map'}"] if photo and command.name == "map" else []
    places: list[str] = []
    for name, parameter in parameters.items():
        if _kind(parameter) == "photo":
            values = [str(photo)] if photo is not None else []
        elif _kind(parameter) == "file":
            values = [_write(folder, name, files[name])] if files.get(name) else []
        else:
            values = _values(name, given.get(name))
        if parameter.param_type_name == "argument":
            places += values
        elif _kind(parameter) == "flag":
            options += [max(parameter.opts, key=len)] if values else []
        else:
            options += [f"{max(parameter.opts, key=len)}={value}" for value in values]
    return [*options, "--", *places] if places else options


def _values(name: str, value: object) -> list[str]:
    """The texts of a field; none where it is empty."""
    from ..optics.errors import InputError

    if value is None or value is False:
        return []
    if value is True:
        return [""]
    several = value if isinstance(value, list) else [value]
    if len(several) > _MOST_TEXTS:
        raise InputError(f"the field {name!r} takes at most {_MOST_TEXTS} entries")
    for one in several:
        if isinstance(one, bool) or not isinstance(one, str | int | float):
            raise InputError(f"the field {name!r} must be a text")
        if len(str(one)) > _LONGEST_TEXT:
            raise InputError(f"the field {name!r} takes at most {_LONGEST_TEXT:,} characters")
    return [text for one in several if (text := str(one).strip())]


def _write(folder: Path, name: str, file: object) -> str:
    """What was sent as a file, under its own name as far as that is one of letters."""
    from ..optics.errors import InputError

    given = file if isinstance(file, Mapping) else {}
    called, text = given.get("name"), given.get("text")
    if not isinstance(called, str) or not isinstance(text, str):
        raise InputError(f"the field {name!r} must hold the name and the text of a file")
    path = folder / name / (re.sub(r"[^\w.-]+", "_", called)[-_LONGEST_NAME:].strip(".") or "file")
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8", newline="")
    return str(path)


def _ask(verb: str, typed: list[str], heard: AnswerTaker, folder: Path) -> Any:
    """Run the verb's own command with all it checks; its context, for the report."""
    from ..optics.errors import InputError, name_parameters
    from ..optics.files.atomic import read_within
    from .main import _UsageError, usage_of

    command = _commands()[verb]
    with ExitStack() as guards:
        guards.enter_context(read_within(folder))
        token = LISTENER.set(heard)
        guards.callback(LISTENER.reset, token)
        try:
            context = command.make_context(
                f"oxhue {verb}", list(typed), obj=[*verb.split(), *typed]
            )
            with context:
                command.invoke(context)
        except InputError as error:
            names = {one.name: f"“{_label(one)}”" for one in command.params}
            raise InputError(_plain(name_parameters(str(error), names))) from error
        except _UsageError as error:
            raise InputError(_plain(usage_of(error).partition("; for example")[0])) from error
        except typer.Exit:  # computed, but nothing to trust
            heard.trusted = False
        return context


def _plain(sentence: str) -> str:
    """A refusal in which options are called by the labels of their fields."""
    return re.sub(
        r"'?--([a-z][a-z-]*)'?", lambda found: f"“{found[1].replace('-', ' ').capitalize()}”",
        sentence,
    )  # fmt: skip
