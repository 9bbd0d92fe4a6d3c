"""Write ``docs/reference/commands.md``: every verb, argument and option from the verbs' own help.

Run as ``python -m tools.write_commands``; a test keeps the page fresh.
"""

from __future__ import annotations

import inspect
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any, get_args, get_type_hints

from typer.models import ArgumentInfo

from oxhue.cli.main import app

PAGE = Path(__file__).parents[1] / "docs" / "reference" / "commands.md"
HEAD = """\
# Commands

<!-- Written by tools/write_commands.py from the verbs' help. -->

`oxhue VERB --help` shows the same on a terminal. Quantities carry their unit (`450C`, `842F`,
`20min`, `45nm`, `3e-5mbar`); `oxhue --version` prints the version, and `oxhue
--install-completion` lets the shell complete verbs, options and names.

| exit code | meaning |
|---|---|
| 0 | answered |
| 1 | a bug of ours; please report it with the command |
| 2 | input refused: one sentence on standard error, nothing on standard output |
| 3 | computed, but no answer to trust: nothing fits, or it did not settle |
| 130 | interrupted |
"""
_EXAMPLE = re.compile(r"Example: (oxhue .+)")


def page() -> str:
    """The whole page."""
    groups = [(f"{one.name} ", one.typer_instance) for one in app.registered_groups]
    verbs = [
        (f"{group}{command.name}", command.callback)
        for group, below in [("", app), *groups]
        for command in below.registered_commands
    ]
    return HEAD + "".join(section(name, verb) for name, verb in verbs if verb is not None)


def section(name: str, verb: Callable[..., None]) -> str:
    """One verb: what it does, its example, its arguments and options."""
    parts = inspect.cleandoc(verb.__doc__ or "").split("\n\n")
    text = _escaped("\n\n".join(" ".join(part.split()) for part in parts))
    text = _EXAMPLE.sub(lambda found: f"```sh\n{found[1]}\n```", text)
    hints = get_type_hints(verb, include_extras=True)
    rows = [
        _row(parameter, hints[parameter], one.default)
        for parameter, one in inspect.signature(verb).parameters.items()
        if parameter != "context"  # the parser's own, which nobody types
    ]
    table = "| | | by default |\n|---|---|---|\n" + "".join(rows)
    return f"\n## {name}\n\n{text}\n\n{table}"


def _row(name: str, hint: Any, default: Any) -> str:
    kind, info = get_args(hint)[:2]
    many = "list" in str(kind)
    if isinstance(info, ArgumentInfo):
        spelt = info.metavar or name.upper()
    else:
        spelt_out = [info.default, *(info.param_decls or ())]  # the first name stands there
        named = [one for one in spelt_out if isinstance(one, str) and one.startswith("--")]
        option = named[0] if named else f"--{name.strip('_').replace('_', '-')}"
        spelt = option if kind is bool else f"{option} {info.metavar or _said(kind)}"
    repeat = " May be repeated." if many and "epeat" not in (info.help or "") else ""
    return f"| `{spelt}` | {_escaped(info.help or '')}{repeat} | {_default(default)} |\n"


def _said(kind: Any) -> str:
    return "N" if kind in (int, float) else "TEXT"


def _default(value: Any) -> str:
    if value is inspect.Parameter.empty:
        return "needed"
    return "" if value is None or value is False else f"`{value}`"


def _escaped(text: str) -> str:
    """A cell's text: bars and angle marks would be taken for markup."""
    return text.replace("|", "\\|").replace("<", "&lt;")


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8", newline="\n")
