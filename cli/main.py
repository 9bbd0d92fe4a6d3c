"""The program: its verbs, and how each way of ending becomes an exit code."""

from __future__ import annotations

import gc
import logging
import os
import re
import sys
from copy import copy
from functools import cache
from importlib import import_module
from itertools import pairwise
from pathlib import Path
from typing import Any

import typer
from typer.main import get_command

from ..optics.errors import InputError, name_parameters, shorten
from ..optics.files.atomic import keep_inputs
from .options import EXIT_BAD_INPUT, EXIT_INTERRUPTED
from .streams import fit_streams, say
from .words import take_plain_values

PANELS = (
    "Where to start",
    "What does it look like?",
    "How thick is it, and what is it?",
    "What should I deposit, and how?",
    "Data, and your own kiln",
)
"""The groups of the help, in their order; a group that is not among them comes last."""

_HELP = {"help_option_names": ["--help", "-h"]}
_UNTYPED = re.compile(r"[\x00\ud800-\udc7f\udd00-\udfff]")
_OBJECTS_AT_A_TIME = 200_000  # to look for unused ones more often takes a twentieth of an answer
_NO_PLACE = "failed to map segment", "can't start new thread"
"""How the loader and the threads say that they find no memory."""
_NAMES_OF_FILES = "FILE", "DIR", "PHOTO"
# glibc keeps a freed array for the next one if it has freed a block as large before; otherwise the
# system has to clear fresh pages for each.
_BLOCK_BYTES = 30_000_000
_LEAST_BYTES = 200_000_000  # of addresses; numpy and its threads take some 150 MB of them
_HELPERS = {"main", "demo_tour", "forms", "gauge_rows", "options", "reporting", "streams", "words"}
"""Files of this folder that hold no verb; every other is one, and says its place in ``PANEL``."""


def _find_verbs() -> typer.Typer:
    """The program with every verb of this folder, in the order of the help."""
    program = typer.Typer(name="oxhue", pretty_exceptions_enable=False, context_settings=_HELP)
    files = {one.stem for one in Path(__file__).parent.glob("[a-z]*.py")} - _HELPERS
    found = [import_module(f".{name}", "oxhue.cli") for name in files]
    after = len(PANELS)
    order = {panel: place for place, panel in enumerate(PANELS)}
    for module in sorted(found, key=lambda one: (order.get(one.PANEL[0], after), *one.PANEL)):
        name, panel = module.__name__.rpartition(".")[2], module.PANEL[0]
        verb = getattr(module, name, None) or getattr(module, f"{name}_")
        if isinstance(verb, typer.Typer):
            program.add_typer(verb, name=name, rich_help_panel=panel)
        else:
            program.command(name, rich_help_panel=panel)(verb)
    return program


app = _find_verbs()

START = """Colour, thickness and identity of thin metal and oxide films.

  oxhue look "TiO2 45nm / Ti"                       what colour is this coating?
  oxhue gauge --film TiO2 --on Ti --seen purple     how thick is this film?
  oxhue tint Ti --at 450C --for 20min               what does this heat do?
  oxhue assay --metal Ti --seen gold --ohms open    is it metal or oxide?
  oxhue page                                        all of it in the browser
  oxhue demo                                        a worked example with charts

'oxhue --help' lists every verb; 'oxhue VERB --help' its options."""

_WHOLE = re.compile(r" *[+-]?[0-9]+(\.0*)? *")

_LEAST_WORD = 3  # letters of an unknown option that are looked for in the help of others
# Typer carries its parser inside or beside itself, by version; this finds its errors either way.
_UsageError: type[Exception] = typer.BadParameter.__mro__[1]


@app.callback(invoke_without_command=True)
def root(
    context: typer.Context,
    version: bool = typer.Option(False, "--version", help="Print the version and leave."),
) -> None:
    """Colour, thickness and identity of thin metal and oxide films."""
    if version:
        from importlib.metadata import version as installed

        typer.echo(f"oxhue {installed('oxhue')}")
        raise typer.Exit
    if context.invoked_subcommand is None:
        typer.echo(START)


def run(arguments: list[str] | None = None) -> None:
    """Run the program and leave with its exit code: the console entry point."""
    gc.set_threshold(_OBJECTS_AT_A_TIME)
    code = exit_code(arguments)
    gc.freeze()  # what is left ends with the process: to look through it takes another twentieth
    sys.exit(code)


def exit_code(arguments: list[str] | None = None) -> int:
    """Run the program in this process; its exit code. A bug of ours raises its own error."""
    if sys.stdout is None:
        return _refuse("standard output is closed; there is nowhere to write the answer")
    _prepare()
    typed = sys.argv[1:] if arguments is None else arguments
    try:
        _check_memory()
        bytes(_BLOCK_BYTES)  # freed at once, and never touched
        _check_letters(typed)
        _check_values(typed)
        with keep_inputs():
            parse = _parser_for(typed)
            result = parse(args=arguments, prog_name="oxhue", standalone_mode=False, obj=typed)
        sys.stdout.flush()
    except InputError as error:
        return _refuse(name_parameters(str(error), _name_options(typed)))
    except _UsageError as error:
        return _refuse(usage_of(error))
    except (KeyboardInterrupt, typer.Abort):
        result = EXIT_INTERRUPTED
    except (MemoryError, ImportError, RuntimeError) as error:
        told = any(one in str(error) for one in _NO_PLACE)
        if not told and not isinstance(error, MemoryError):
            raise
        return _refuse("this takes more memory than there is; ask for less, or free some")
    except (BrokenPipeError, SystemExit):  # the libraries leave at once when a pipe breaks
        _silence()
        return 0
    except OSError as error:
        if error.filename is not None:  # not the stream of the answer, but a file of ours
            raise
        _silence()
        return _refuse(f"cannot write the answer: {(error.strerror or str(error)).lower()}")
    if result == EXIT_INTERRUPTED:  # some versions of the parser turn Ctrl-C into this themselves
        say("oxhue: interrupted")
    return result if isinstance(result, int) else 0


def _check_letters(typed: list[str]) -> None:
    """Refuse what no shell can hand over, and some parsers stumble over: NUL, half letter pairs."""
    for before, word in pairwise(["", *typed]):
        if _UNTYPED.search(word):
            option = f"{before} " if before.startswith("--") else ""
            said = "a NUL" if "\0" in word else "half of a letter"
            raise InputError(f"{option}{shorten(word)!r} holds {said}, which no name or text can")


def _check_values(typed: list[str]) -> None:
    """Refuse an option in the place of a value, one that would go unheard, a file unnamed, and what
    is no whole number where one is asked for."""
    command, given = _typed_command(typed)
    if command is None:
        return
    takes = {
        name: one for one in command.params for name in one.opts if name.startswith("--")
        and not getattr(one, "is_flag", False)
    }  # fmt: skip
    options = {name for one in command.params for name in one.opts if name.startswith("--")}
    places = [one for one in command.params if one.param_type_name == "argument"]
    said: set[str] = set()
    words = iter(given)
    for word in words:
        name, stated, value = word.partition("=")
        if word == "--":
            return
        if not word and any(one.metavar in _NAMES_OF_FILES for one in places):
            raise InputError("an empty name is given; name a file or folder")
        if name not in takes:
            if places and not word.startswith("-"):
                _check_whole(places[0] if places[0].nargs == -1 else places.pop(0), word)
            continue
        if not stated:
            value = next(words, "--")  # none at all is for the parser to tell
            if value in options:
                raise InputError(f"{name} is given no value; {value} stands where it should")
        if not value and takes[name].metavar in _NAMES_OF_FILES:
            raise InputError(
                f"{name} is given an empty name; name a file or folder, or leave it out"
            )
        if takes[name].name in said and not takes[name].multiple:
            raise InputError(f"{name} is given twice, and only one of them would count")
        said.add(takes[name].name)
        _check_whole(takes[name], value)


def _check_whole(parameter: Any, value: str) -> None:
    """Refuse by its own words what the parser refuses in a library's, without what was typed."""
    described = getattr(parameter, "type_descriptor", None)
    kind = parameter.type.name if described is None else described.annotation
    if "int" in str(kind) and not _WHOLE.fullmatch(value):
        name = max(parameter.opts, key=len)
        name = name if name.startswith("-") else parameter.metavar
        raise InputError(f"{name} is a whole number such as 3, not {shorten(value)!r}")


def _typed_command(typed: list[str]) -> tuple[Any, list[str]]:
    """The command of the words typed, None where there is none, and the words after its name."""
    command: Any = _parser_for(typed)
    for place, word in enumerate(typed):
        below = getattr(command, "commands", None)
        if below is None:
            return command, typed[place:]
        if word not in below:
            return None, []
        command = below[word]
    return (command, []) if typed and not hasattr(command, "commands") else (None, [])


def _name_options(typed: list[str]) -> dict[str, str]:
    """What the verb that was typed calls its parameters: an option, or the word for a place."""
    command, _ = _typed_command(typed)
    return {"list_materials": "'oxhue materials'"} | {
        one.name: max(one.opts, key=len) if one.param_type_name == "option" else str(one.metavar)
        for one in getattr(command, "params", ())
    }


def _options_about(error: Any) -> list[str]:
    """Options whose help names what an unknown one is called: --coupons for --kiln."""
    word = (getattr(error, "option_name", None) or "").lstrip("-")
    if len(word) < _LEAST_WORD:
        return []
    params = getattr(getattr(error.ctx, "command", None), "params", ())
    return [
        max(one.opts, key=len)
        for one in params
        if re.search(rf"\b{re.escape(word)}\b", getattr(one, "help", None) or "", re.IGNORECASE)
    ]


def usage_of(error: Any) -> str:
    """What the parser complains of, and the verb's own example of how it is right."""
    if about := _options_about(error):
        error.possibilities = about
    said = str(error.format_message()).rstrip(".")
    if said.endswith("?"):  # the parser has found what was meant
        return said
    command = getattr(getattr(error, "ctx", None), "command", None)
    _, marked, example = (getattr(command, "help", None) or "").partition("Example:")
    if marked:
        return f"{said}; for example: {example.strip().splitlines()[0]}"
    verbs = ", ".join(getattr(command, "commands", ()))
    return f"{said}; a verb comes first: {verbs}" if verbs else said


def _prepare() -> None:
    """Let no character, and no library, get between an answer and its reader."""
    fit_streams()
    # It tells of folders and fonts; what it cannot do comes as an exception.
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    # Our matrices are thin: threads that wait for their share of one double the processor's time.
    for name in ("OPENBLAS", "MKL"):
        os.environ.setdefault(f"{name}_NUM_THREADS", "1")


def _check_memory() -> None:
    """Refuse a limit of memory under which the libraries would end the program in their words."""
    try:
        from resource import RLIM_INFINITY, RLIMIT_AS, getrlimit
    except ImportError:  # where nobody can set one
        return
    most, _ = getrlimit(RLIMIT_AS)
    if most != RLIM_INFINITY and most < _LEAST_BYTES:
        raise InputError(
            f"memory is limited to {most / 1e6:.0f} MB here (ulimit -v); the least that is enough "
            f"is {_LEAST_BYTES / 1e6:.0f} MB"
        )


def _parser_for(typed: list[str]) -> Any:
    """The parser of the verb typed, or of all where the first word is none."""
    names = [one.name for one in app.registered_commands]
    names += [one.name for one in app.registered_groups]
    completes = "_OXHUE_COMPLETE" in os.environ  # what a shell asks of an unfinished line
    if set(typed) <= set(_HELP["help_option_names"]) and not completes:
        return _parser(listed=True)
    return _parser(typed[0] if typed and typed[0] in names else None)


@cache
def _parser(verb: str | None = None, *, listed: bool = False) -> Any:
    """The parser of one verb, or of all; making that takes longer than most answers."""
    whole = _list_verbs() if listed else app
    if verb is not None:
        whole = _program_of(
            [one for one in app.registered_commands if one.name == verb],
            [one for one in app.registered_groups if one.name == verb],
        )
    parser: Any = get_command(whole)
    commands = [parser]
    for command in commands:
        commands.extend(getattr(command, "commands", {}).values())
        command.help = _join_lines(command.help or "")
        context = command.context_class(command, **(command.context_settings | _HELP))
        for parameter in filter(None, (*command.params, command.get_help_option(context))):
            if getattr(parameter, "is_flag", False):
                parameter.metavar = ""  # or the help would name a type beside each
            take_plain_values(parameter)
    return parser


def _join_lines(text: str) -> str:
    """Paragraphs without the line breaks of the source, which the help would keep."""
    return "\n\n".join(" ".join(one.split()) for one in text.split("\n\n"))


def _list_verbs() -> typer.Typer:
    """The verbs with their words and none of their options, which take half the time to read."""
    commands = [copy(one) for one in app.registered_commands]
    for command in commands:
        command.callback = _only_words(command.callback)
    groups = [copy(one) for one in app.registered_groups]
    for group in groups:
        group.typer_instance = copy(group.typer_instance)
        if group.typer_instance is not None:
            group.typer_instance.registered_commands = []
    return _program_of(commands, groups)


def _program_of(commands: list[Any], groups: list[Any]) -> typer.Typer:
    """The program with some of its verbs."""
    made = typer.Typer(name="oxhue", pretty_exceptions_enable=False, context_settings=_HELP)
    made.registered_callback = app.registered_callback
    made.registered_commands, made.registered_groups = commands, groups
    return made


def _only_words(verb: Any) -> Any:
    def told() -> None: ...

    told.__doc__ = verb.__doc__
    return told


def _silence() -> None:
    """Nobody reads any more; Python would complain once more when it closes the stream."""
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _refuse(sentence: str) -> int:
    say(f"oxhue: {' '.join(sentence.split())}")
    return EXIT_BAD_INPUT


if __name__ == "__main__":
    run()
