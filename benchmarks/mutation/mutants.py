"""The small faults: one operator, number, argument, string or assignment changed in one place.

The changes of single nodes are those of ``mutmut`` (installed by hand, ``mutmut==3.8.1``). Left out
is what no test should hold to the letter: everything inside ``raise`` and f-strings (the wording
of errors is tested on its own), the names given for that wording (``checked(xyz, "xyz")``),
docstrings, annotations, decorators and imports. A string is changed in one way alone, and an
argument too (one by position becomes None, one by name falls out), so that a few strings and long
calls do not outweigh the arithmetic.
"""

from __future__ import annotations

import ast
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import libcst as cst
from libcst.metadata import MetadataWrapper, ParentNodeProvider, PositionProvider
from mutmut.mutation import mutators

SKIPPED = (
    cst.Raise,
    cst.Annotation,
    cst.Decorator,
    cst.Import,
    cst.ImportFrom,
    cst.FormattedString,
)
UNTOUCHED_CALLS = {"len", "isinstance", "cast", "TypeVar"}
OWN = {mutators.operator_arg_removal, mutators.operator_string}


@dataclass(frozen=True)
class Mutant:
    """One change: where it is, what it reads before and after, and the lines of its statement."""

    line: int
    column: int
    number: int
    before: str
    after: str
    statement: tuple[int, int]
    inside: bool  # of a function or class; if not, names of the module itself change

    @property
    def key(self) -> str:
        return f"{self.line}:{self.column}:{self.number}"


def argument_changes(node: cst.Call) -> Iterable[cst.CSTNode]:
    for place, arg in enumerate(node.args):
        if arg.star or names_another(arg, node):
            continue
        if arg.keyword is not None:
            yield node.with_changes(args=[*node.args[:place], *node.args[place + 1 :]])
        elif not (isinstance(arg.value, cst.Name) and arg.value.value == "None"):
            none = arg.with_changes(value=cst.Name("None"))
            yield node.with_changes(args=[*node.args[:place], none, *node.args[place + 1 :]])


def names_another(arg: cst.Arg, call: cst.Call) -> bool:
    """``checked(xyz, "xyz")``: the name is there for the wording of an error."""
    if not isinstance(arg.value, cst.SimpleString):
        return False
    return any(arg.value.raw_value in shown(other.value).split(".") for other in call.args)


def string_changes(node: cst.BaseString) -> Iterable[cst.CSTNode]:
    yield from list(mutators.operator_string(node))[:1]


OPERATORS: list[tuple[type, Callable[..., Iterable[cst.CSTNode]]]] = [
    *((kind, change) for kind, change in mutators.mutation_operators if change not in OWN),
    (cst.Call, argument_changes),
    (cst.BaseString, string_changes),
]


class Finder(cst.CSTVisitor):
    """Walks a file and keeps every node with a change of it."""

    METADATA_DEPENDENCIES = (PositionProvider, ParentNodeProvider)

    def __init__(self) -> None:
        super().__init__()
        self.found: list[tuple[Mutant, cst.CSTNode, cst.CSTNode]] = []
        self.statements: list[tuple[int, int]] = [(1, 1)]
        self.depth = 0

    def on_visit(self, node: cst.CSTNode) -> bool:
        if isinstance(node, SKIPPED) or is_text(node):
            return False
        if isinstance(node, cst.Arg):
            call = self.get_metadata(ParentNodeProvider, node)
            if isinstance(call, cst.Call) and names_another(node, call):
                return False
        if isinstance(node, cst.SimpleStatementLine | cst.BaseCompoundStatement):
            self.statements.append(self.lines(node))
        self.depth += isinstance(node, cst.FunctionDef | cst.ClassDef)
        if not (isinstance(node, cst.Call) and name_of(node.func) in UNTOUCHED_CALLS):
            self.change(node)
        return True

    def on_leave(self, original_node: cst.CSTNode) -> None:
        counted = isinstance(original_node, cst.SimpleStatementLine | cst.BaseCompoundStatement)
        if counted and not is_text(original_node):
            self.statements.pop()
        self.depth -= isinstance(original_node, cst.FunctionDef | cst.ClassDef)

    def lines(self, node: cst.CSTNode) -> tuple[int, int]:
        span = self.get_metadata(PositionProvider, node)
        if isinstance(node, cst.BaseCompoundStatement):
            body = self.get_metadata(PositionProvider, node.body)
            return span.start.line, max(span.start.line, body.start.line - 1)
        return span.start.line, span.end.line

    def change(self, node: cst.CSTNode) -> None:
        number = 0
        for kind, change in OPERATORS:
            if not isinstance(node, kind):
                continue
            for changed in change(node):
                start = self.get_metadata(PositionProvider, node).start
                mutant = Mutant(
                    start.line,
                    start.column,
                    number,
                    shown(node),
                    shown(changed),
                    self.statements[-1],
                    self.depth > 0,
                )
                self.found.append((mutant, node, changed))
                number += 1


def shown(node: cst.CSTNode) -> str:
    return " ".join(cst.Module([]).code_for_node(node).split())


def name_of(node: cst.CSTNode) -> str:
    return node.value if isinstance(node, cst.Name) else ""


def is_text(node: cst.CSTNode) -> bool:
    """A docstring, or the making of an error that is raised elsewhere."""
    if isinstance(node, cst.SimpleStatementLine) and len(node.body) == 1:
        line = node.body[0]
        return isinstance(line, cst.Expr) and isinstance(line.value, cst.BaseString)
    return isinstance(node, cst.Call) and name_of(node.func).endswith("Error")


class Faults:
    """All mutants of one file, and the source that each makes."""

    def __init__(self, path: Path) -> None:
        self.source = path.read_text(encoding="utf-8")
        wrapper = MetadataWrapper(cst.parse_module(self.source))
        finder = Finder()
        wrapper.visit(finder)
        self.module = wrapper.module
        self.found = {mutant: (old, new) for mutant, old, new in finder.found}

    def __iter__(self) -> Iterator[Mutant]:
        return iter(self.found)

    def code(self, mutant: Mutant) -> str | None:
        """The file with this one change; None if it means the same or cannot be compiled."""
        old, new = self.found[mutant]
        changed = self.module.deep_replace(old, new).code  # type: ignore[union-attr]
        try:
            same = ast.dump(ast.parse(changed)) == ast.dump(ast.parse(self.source))
        except SyntaxError:
            return None
        return None if same else changed
