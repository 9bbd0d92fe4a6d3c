"""Write the list of public names, and their reference, from what each room says is public.

A room of ``optics`` lists its public names in ``PUBLIC`` of its ``__init__.py``, each below the
room: ``"result.Look"``. ``python -m tools.write_door`` writes ``oxhue/__init__.pyi`` and the names
in ``docs/reference/python.md``; a test keeps both fresh.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[1]
STUB = ROOT / "oxhue" / "__init__.pyi"
REFERENCE = ROOT / "docs" / "reference" / "python.md"
HEAD = '"""The names of the front door; tools/write_door.py writes them from the rooms."""\n\n'
MARK = "<!-- From here on written by tools/write_door.py. -->\n"


@dataclass(frozen=True)
class Room:
    """A folder of the library: its dotted name, what it is about, its public names."""

    name: str
    about: str
    public: tuple[str, ...]

    def homes(self) -> Iterator[tuple[str, str]]:
        """The module of each public name, and the name."""
        for one in sorted(self.public, key=lambda one: (one.rpartition(".")[2][0].isupper(), one)):
            module, _, name = one.rpartition(".")
            yield f"{self.name}.{module}", name


def rooms() -> list[Room]:
    """The rooms with public names, the library's own modules first."""
    found = [_read(ROOT / "optics" / "__init__.py", "optics")]
    folders = sorted((ROOT / "optics").glob("*/__init__.py"))
    found += [_read(path, f"optics.{path.parent.name}") for path in folders]
    return [room for room in found if room.public]


def _read(path: Path, name: str) -> Room:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    about = (ast.get_docstring(tree) or "").partition("\n")[0]
    for node in tree.body:
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "PUBLIC":
            public = tuple(ast.literal_eval(node.value))
            return Room(name, about if "." in name else "Errors", public)
    return Room(name, about, ())


def stub() -> str:
    """What type checkers read, and ``oxhue`` when a name is asked for."""
    homes = [one for room in rooms() for one in room.homes()]
    homes.sort(
        key=lambda one: (one[0], not one[1][0].isupper(), one[1].lower())
    )  # as ruff wants it
    lines = [f"from .{module} import {name} as {name}\n" for module, name in homes]
    return f"{HEAD}{''.join(lines)}\n__version__: str\n"


def reference() -> str:
    """The page of names: what stands above the mark, and a section for each room."""
    head = REFERENCE.read_text(encoding="utf-8").partition(MARK)[0]
    return head + MARK + "".join(map(_section, rooms()))


def _section(room: Room) -> str:
    names = "".join(f"::: oxhue.{module}.{name}\n" for module, name in room.homes())
    return f"\n## {room.about.rstrip('.')}\n\n{names}"


if __name__ == "__main__":
    STUB.write_text(stub(), encoding="utf-8", newline="\n")
    REFERENCE.write_text(reference(), encoding="utf-8", newline="\n")
