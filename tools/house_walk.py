"""The package as a graph of modules, and the walk of one value through its files.

The walk starts at a function with the value in its first parameter. It follows, in the order of the
source, every call of a function of the package that is given the value or what was made from it: a
name that holds it, its attributes and items, a tuple or list with it, the result of a call with it
among the arguments. Each function is walked once, where it is met first. Not followed are methods
of the value itself, constructors, and what stands in a ``raise``. A stop is a file, as long as the
walk stays in it; a return is a stop in a file that was left before.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path

FOLDERS = ("oxhue", "optics", "cli", "page", "nk_data")
Found = tuple[str, ast.FunctionDef | ast.ClassDef]


@dataclass(frozen=True)
class Module:
    """A file of the package."""

    path: Path
    text: str
    tree: ast.Module

    @cached_property
    def nodes(self) -> tuple[ast.AST, ...]:
        """The whole tree, walked once for all that is asked of it."""
        return tuple(ast.walk(self.tree))


@dataclass(frozen=True)
class House:
    """All modules below a root, by their dotted names."""

    root: Path

    @cached_property
    def modules(self) -> dict[str, Module]:
        """Each folder of the package installs as ``oxhue.folder``, and ``oxhue`` as itself."""
        found = {}
        for folder in FOLDERS:
            for path in sorted((self.root / folder).rglob("*.py")):
                parts = path.relative_to(self.root).with_suffix("").parts
                parts = parts if folder == "oxhue" else ("oxhue", *parts)
                name = ".".join(parts).removesuffix(".__init__")
                text = path.read_text(encoding="utf-8")
                found[name] = Module(path, text, ast.parse(text))
        return found

    @cached_property
    def imports(self) -> dict[str, dict[str, tuple[str, str]]]:
        """Of each module: local name -> module and name there, for what it takes from others."""
        return {name: dict(self._imported(name)) for name in self.modules}

    def _imported(self, name: str) -> Iterator[tuple[str, tuple[str, str]]]:
        module = self.modules[name]
        parent = name if module.path.stem == "__init__" else name.rpartition(".")[0]
        for node in module.nodes:
            if isinstance(node, ast.ImportFrom):
                base = parent
                for _ in range(node.level - 1):
                    base = base.rpartition(".")[0]
                origin = ".".join(filter(None, (base if node.level else "", node.module)))
                yield from ((one.asname or one.name, (origin, one.name)) for one in node.names)

    def door(self) -> list[Found]:
        """Functions and classes of the front door, as its stub lists them."""
        stub, home = self.root / "oxhue" / "__init__.pyi", "oxhue"
        if not stub.exists():  # before there was a folder for the door
            stub, home = self.root / "optics" / "__init__.py", "oxhue.optics"
        lines = re.findall(r"^\s*from (\S+) import (\w+) as \w+$", stub.read_text("utf-8"), re.M)
        found = (self.find(f"{home}{module}", name) for module, name in lines)
        return [one for one in found if one is not None]

    def find(self, module: str, name: str) -> Found | None:
        """The function or class that a name means in a module, and where it is written."""
        for _ in range(5):  # an import of an import ends soon
            if module not in self.modules:
                return None
            for node in self.modules[module].tree.body:
                if isinstance(node, ast.FunctionDef | ast.ClassDef) and node.name == name:
                    return module, node
            module, name = self.imports[module].get(name, ("", ""))
        return None

    def written_in(self, function: str, below: str = "oxhue.optics") -> Found:
        """A function of the library by its name alone."""
        for module in self.modules:
            if module.startswith(below):
                for node in self.modules[module].tree.body:
                    if isinstance(node, ast.FunctionDef) and node.name == function:
                        return module, node
        raise LookupError(f"no function {function} below {below}")


@dataclass
class Walk:
    """Stops of a value on its way through the files."""

    house: House
    stops: list[str] = field(default_factory=list)
    walked: set[tuple[str, str]] = field(default_factory=set)

    def enter(self, module: str, function: ast.FunctionDef, held: set[str]) -> None:
        """Walk through a function whose parameters ``held`` hold the value."""
        if (module, function.name) in self.walked:
            return
        self.walked.add((module, function.name))
        if not self.stops or self.stops[-1] != module:
            self.stops.append(module)
        reader = _Reader(self, module, held)
        for statement in function.body:
            reader.visit(statement)

    @property
    def returns(self) -> int:
        """Stops in a file that was left before."""
        return len(self.stops) - len(set(self.stops))


def walk(house: House, function: str) -> Walk:
    """The walk of what a function's first parameter is given."""
    module, start = house.written_in(function)
    assert isinstance(start, ast.FunctionDef)
    walked = Walk(house)
    walked.enter(module, start, {start.args.args[0].arg})
    return walked


class _Reader(ast.NodeVisitor):
    """Reads one function from top to bottom; ``held`` are the names that hold the value."""

    def __init__(self, walk: Walk, module: str, held: set[str]) -> None:
        self.walk, self.module, self.held = walk, module, set(held)

    def holds(self, node: ast.expr | None) -> bool:
        while isinstance(node, ast.Attribute | ast.Subscript | ast.Starred):
            node = node.value
        if isinstance(node, ast.Tuple | ast.List):
            return any(map(self.holds, node.elts))
        if isinstance(node, ast.Call):
            return any(map(self.holds, [*node.args, *(one.value for one in node.keywords)]))
        return isinstance(node, ast.Name) and node.id in self.held

    def give(self, value: ast.expr | None, *targets: ast.expr | None) -> None:
        """Let the names of the targets hold the value if what they are given does."""
        if value is not None and self.holds(value):
            for given in filter(None, targets):
                target = given
                while isinstance(target, ast.Attribute | ast.Subscript):
                    target = target.value
                self.held |= {one.id for one in ast.walk(target) if isinstance(one, ast.Name)}

    def visit_Assign(self, node: ast.Assign) -> None:
        self.visit(node.value)
        self.give(node.value, *node.targets)

    def visit_AnnAssign(self, node: ast.AnnAssign | ast.AugAssign) -> None:
        if node.value is not None:
            self.visit(node.value)
            self.give(node.value, node.target)

    visit_AugAssign = visit_AnnAssign

    def visit_For(self, node: ast.For | ast.comprehension) -> None:
        self.visit(node.iter)
        self.give(node.iter, node.target)
        for inner in node.ifs if isinstance(node, ast.comprehension) else node.body:
            self.visit(inner)

    visit_comprehension = visit_For

    def visit_withitem(self, node: ast.withitem) -> None:
        self.visit(node.context_expr)
        self.give(node.context_expr, node.optional_vars)

    def visit_GeneratorExp(self, node: ast.GeneratorExp | ast.ListComp | ast.DictComp) -> None:
        outside = set(self.held)
        for generator in node.generators:
            self.visit(generator)
        for inner in (node.key, node.value) if isinstance(node, ast.DictComp) else (node.elt,):
            self.visit(inner)
        self.held = outside

    visit_ListComp = visit_SetComp = visit_DictComp = visit_GeneratorExp

    def _pass_by(self, node: ast.AST) -> None:
        """What is written here runs elsewhere, or ends the walk."""

    visit_FunctionDef = visit_ClassDef = visit_Lambda = visit_Raise = _pass_by

    def visit_Call(self, node: ast.Call) -> None:
        self.generic_visit(node)
        if not self.holds(node):
            return
        called = node.func
        if isinstance(called, ast.Attribute) and isinstance(called.value, ast.Name):
            if called.attr in ("append", "extend", "add"):
                self.held.add(called.value.id)
            found, skipped = self._method(called.value.id, called.attr), 1
        else:
            name = called.id if isinstance(called, ast.Name) else ""
            found, skipped = self.walk.house.find(self.module, name), 0
        if found and isinstance(found[1], ast.FunctionDef):
            self.walk.enter(found[0], found[1], self._parameters(node, found[1], skipped))

    def _method(self, owner: str, name: str) -> Found | None:
        """A method called on a class by its name, such as one that makes an instance."""
        found = self.walk.house.find(self.module, owner)
        inside = found[1].body if found and isinstance(found[1], ast.ClassDef) else []
        for node in inside:
            if found and isinstance(node, ast.FunctionDef) and node.name == name:
                return found[0], node
        return None

    def _parameters(self, call: ast.Call, function: ast.FunctionDef, skipped: int) -> set[str]:
        """The parameters that are given the value."""
        names = [one.arg for one in function.args.posonlyargs + function.args.args][skipped:]
        rest = function.args.vararg.arg if function.args.vararg else ""
        held: set[str] = set()
        for i, argument in enumerate(call.args):
            if self.holds(argument):
                several = isinstance(argument, ast.Starred)
                held |= set(names[i:] if several else names[i : i + 1]) or {rest}
        return held | {one.arg for one in call.keywords if one.arg and self.holds(one.value)}
