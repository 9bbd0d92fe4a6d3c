"""Small faults put into the code one at a time, and whether a test notices.

Run as ``python -m tools.mutate FILE... --tests TEST...``. It notes which tests run which lines,
draws a sample of faults for each file, and runs for each the tests of its line, then the others,
quick ones first, until one fails. It prints a row for each file and the faults that nobody
noticed. Needs Unix: each fault lives in a process of its own, split off one that has already
loaded the slow libraries.

A fault is another comparison, operator or number, a condition turned round, `and` for `or`, a
result that is None, a text with two letters more where it is compared, looked up or a key. Wording,
types and what is only asserted are left alone: no test should hold every word.
"""

from __future__ import annotations

import argparse
import ast
import importlib.machinery
import os
import resource
import signal
import sys
import time
from bisect import bisect_right
from collections.abc import Callable, Iterator
from contextlib import redirect_stderr, redirect_stdout, suppress
from dataclasses import dataclass
from itertools import accumulate
from pathlib import Path
from random import Random
from types import CodeType
from typing import Any

import pytest

ROOT = Path(__file__).parents[1]
LIBRARIES = ("numpy", "scipy.optimize", "scipy.special", "matplotlib.figure", "PIL.Image", "typer")
_NOTICED, _UNNOTICED, _HANGS_S, _SPENT_S = 0, 7, 120, 30.0
_COMPARE = {ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
            ast.NotEq: ast.Eq, ast.Is: ast.IsNot, ast.IsNot: ast.Is, ast.In: ast.NotIn,
            ast.NotIn: ast.In}  # fmt: skip
_OPERATE = {ast.Add: ast.Sub, ast.Sub: ast.Add, ast.Mult: ast.Div, ast.Div: ast.Mult,
            ast.Pow: ast.Mult, ast.FloorDiv: ast.Div, ast.Mod: ast.Mult, ast.BitOr: ast.BitAnd,
            ast.BitAnd: ast.BitOr, ast.UAdd: ast.USub, ast.USub: ast.UAdd}  # fmt: skip


@dataclass(frozen=True)
class Fault:
    """A change of one field of one node, and what it is in words."""

    line: int
    said: str
    node: Any
    field: str
    value: Any


def find_faults(tree: ast.Module) -> list[Fault]:
    """Every fault of a file, in the order of its lines."""
    skipped = {id(inner) for node in ast.walk(tree) for inner in _left_alone(node)}
    found = [fault for node in ast.walk(tree) if id(node) not in skipped for fault in _faults(node)]
    return sorted(found, key=lambda fault: fault.line)


def _left_alone(node: ast.AST) -> Iterator[ast.AST]:
    """What stands for wording, types or how a class is made."""
    parts: list[ast.AST | None] = []
    if isinstance(node, ast.Raise | ast.Assert | ast.JoinedStr | ast.ImportFrom):
        parts = [node]
    elif isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
        parts = [node.returns, *node.decorator_list]
        parts += [one.annotation for one in (*node.args.args, *node.args.kwonlyargs)]
    elif isinstance(node, ast.ClassDef):
        parts = [*node.decorator_list]
    elif isinstance(node, ast.AnnAssign):
        parts = [node.annotation]
    elif isinstance(node, ast.keyword) and node.arg == "strict":  # asserts that two are as long
        parts = [node.value]
    elif isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
        parts = [node]
    for part in parts:
        if part is not None:
            yield from ast.walk(part)


def _faults(node: Any) -> Iterator[Fault]:
    def fault(said: str, field: str, value: Any) -> Fault:
        return Fault(node.lineno, said, node, field, value)

    if isinstance(node, ast.Compare):
        ops = [_COMPARE[type(op)]() for op in node.ops]
        yield fault(f"{ast.unparse(node)}: other comparison", "ops", ops)
        keyed = [_longer(one) for one in node.comparators]
        if any(keyed):
            both = [new or old for new, old in zip(keyed, node.comparators, strict=True)]
            yield fault(f"{ast.unparse(node)}: other text", "comparators", both)
    elif isinstance(node, ast.BinOp | ast.UnaryOp | ast.AugAssign) and type(node.op) in _OPERATE:
        yield fault(f"{ast.unparse(node)}: other operator", "op", _OPERATE[type(node.op)]())
    elif isinstance(node, ast.BoolOp):
        other = ast.Or() if isinstance(node.op, ast.And) else ast.And()
        yield fault(f"{ast.unparse(node)}: and for or", "op", other)
    elif isinstance(node, ast.If | ast.IfExp | ast.While):
        turned = ast.UnaryOp(ast.Not(), node.test)
        yield fault(f"if {ast.unparse(node.test)}: turned round", "test", turned)
    elif isinstance(node, ast.Constant) and type(node.value) in (int, float):
        yield fault(f"{node.value} + 1", "value", node.value + 1)
    elif isinstance(node, ast.Constant) and type(node.value) is bool:
        yield fault(f"not {node.value}", "value", not node.value)
    elif isinstance(node, ast.Return) and node.value is not None:
        if not (isinstance(node.value, ast.Constant) and node.value.value is None):
            yield fault(f"{ast.unparse(node)}: None", "value", ast.Constant(None))
    elif isinstance(node, ast.Subscript) and (longer := _longer(node.slice)):
        yield fault(f"{ast.unparse(node)}: other key", "slice", longer)
    elif isinstance(node, ast.Dict):
        keyed = [_longer(one) for one in node.keys]
        for i, key in enumerate(keyed):
            if key:
                keys = [*node.keys[:i], key, *node.keys[i + 1 :]]
                yield fault(f"{ast.unparse(node.keys[i])}: other key", "keys", keys)  # type: ignore[arg-type]


def _longer(node: ast.AST | None) -> ast.Constant | None:
    text = isinstance(node, ast.Constant) and isinstance(node.value, str)
    return ast.Constant(f"{node.value}XX") if text else None  # type: ignore[union-attr]


class Watch:
    """A plugin that notes which test runs which line, and how long each takes."""

    def __init__(self, files: list[Path]) -> None:
        from coverage import Coverage

        self.cover = Coverage(data_file=None, include=[str(one) for one in files], branch=False)
        self.seconds: dict[str, float] = {}

    @pytest.hookimpl(hookwrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Count what runs under the name of the test."""
        self.cover.switch_context(item.nodeid)
        begun = time.process_time()
        yield
        self.seconds[item.nodeid] = time.process_time() - begun


def tests_by_line(files: list[Path], tests: list[str]) -> tuple[dict[Path, Any], dict[str, float]]:
    """For each file the tests that run each of its lines, and what each test takes [s]."""

    def trace() -> Any:
        watch = Watch(files)
        watch.cover.start()
        if _run(tests, [watch]) != 0:
            raise SystemExit("the tests fail without any fault; mend them first")
        watch.cover.stop()
        data = watch.cover.get_data()
        lines = {str(one): data.contexts_by_lineno(str(one)) for one in files}
        return lines, watch.seconds

    lines, seconds = _apart(trace)
    return {Path(name): found for name, found in lines.items()}, seconds


def _run(tests: list[str], plugins: list[Any]) -> int:
    quiet = ["-x", "-q", "-p", "no:randomly", "-p", "no:cacheprovider", "-p", "no:xdist"]
    with open(os.devnull, "w") as nowhere, redirect_stdout(nowhere), redirect_stderr(nowhere):
        return int(pytest.main([*quiet, "-m", "not slow", *tests], plugins=plugins))


def _apart(work: Callable[[], Any]) -> Any:
    """What a piece of work gives in a process of its own."""
    import pickle

    read, write = os.pipe()
    pid = os.fork()
    if pid == 0:
        os.close(read)
        with os.fdopen(write, "wb") as stream:
            pickle.dump(work(), stream)
        os._exit(0)
    os.close(write)
    with os.fdopen(read, "rb") as stream:
        found = stream.read()
    os.waitpid(pid, 0)
    return pickle.loads(found)


def is_noticed(path: Path, code: CodeType, tests: list[str]) -> bool:
    """Whether one of the tests fails, or hangs, with this code in place of a file's."""
    pid = os.fork()
    if pid:
        return os.waitpid(pid, 0)[1] != _UNNOTICED << 8
    with suppress(BaseException):
        os.setsid()
        signal.alarm(_HANGS_S * 4)
        resource.setrlimit(resource.RLIMIT_CPU, (_HANGS_S, _HANGS_S))
        usual = importlib.machinery.SourceFileLoader.get_code

        def get_code(loader: Any, name: str) -> Any:
            own = Path(loader.path).resolve() == path
            return code if own else usual(loader, name)

        importlib.machinery.SourceFileLoader.get_code = get_code  # type: ignore[method-assign]
        if _run(tests, []) == 0:
            os._exit(_UNNOTICED)
    os._exit(_NOTICED)


def quick_ones(tests: list[str], seconds: dict[str, float]) -> list[str]:
    """The quickest of the tests first, as many as take half a minute together, sixty at least."""
    ordered = sorted(tests, key=lambda one: seconds.get(one, 0.0))
    spent = list(accumulate(seconds.get(one, 0.0) for one in ordered))
    return ordered[: max(60, bisect_right(spent, _SPENT_S))]


def try_file(path: Path, by_line: Any, seconds: dict[str, float], count: int, seed: int) -> str:
    """Try a sample of the faults of a file; a row of the record, the unnoticed ones printed."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    faults = find_faults(tree)
    name = str(path.relative_to(ROOT))
    chosen = Random(f"{seed} {name}").sample(faults, min(count, len(faults)))
    noticed = 0
    for fault in sorted(chosen, key=lambda one: one.line):
        tests = [one for one in by_line.get(fault.line, []) if one] or list(seconds)
        # What a test shares with others, made once, ran under the name of the first of them.
        others = [one for one in seconds if one not in {*tests}]
        before = getattr(fault.node, fault.field)
        setattr(fault.node, fault.field, fault.value)
        code = compile(ast.fix_missing_locations(tree), str(path), "exec")
        setattr(fault.node, fault.field, before)
        if any(
            is_noticed(path, code, quick_ones(some, seconds)) for some in (tests, others) if some
        ):
            noticed += 1
        else:
            print(f"{name}:{fault.line}: {fault.said:.120}", flush=True)
    share = f"{noticed / len(chosen):.0%}" if chosen else "–"
    return f"| {name} | {len(faults)} | {len(chosen)} | {noticed} ({share}) |"


def main() -> None:
    """Read what is asked, try it, print it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("files", nargs="+", type=Path)
    parser.add_argument("--tests", nargs="+", required=True)
    parser.add_argument("--count", type=int, default=25, help="faults a file")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    sys.dont_write_bytecode = True
    for library in LIBRARIES:
        with suppress(ImportError):
            __import__(library)
    files = [one.resolve() for one in given.files]
    by_file, seconds = tests_by_line(files, given.tests)
    for path in files:
        print(try_file(path, by_file[path], seconds, given.count, given.seed), flush=True)


if __name__ == "__main__":
    main()
