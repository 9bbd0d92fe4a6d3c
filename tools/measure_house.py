"""Measure how the package is built: sizes, names, arguments, words, and walks through its files.

``python -m tools.measure_house [ROOT]`` prints a line for each figure, of this tree or of another
one unpacked at ROOT; ``--list`` names what is counted.
"""

from __future__ import annotations

import argparse
import ast
import re
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path

from .house_walk import FOLDERS, House, Module, walk

Function = ast.FunctionDef | ast.AsyncFunctionDef
LONG_FILE, SHORT_FILE, LONG_FUNCTION, POSITIONAL = 600, 40, 40, 3
REASON = "# long: "
WORDS = re.compile(
    r"\b(reckon|nought|amid|lest\b|parted by|anew\b|midst|told apart|tells? apart)", re.IGNORECASE
)
FLAG = re.compile(
    r"(?<![\w-])--[a-z][a-z-]*"
    r"|\boxhue (?:look|gauge|spectrum|map|tint|coupons|assay|mirror|design|sheet|materials|demo)\b"
)
ALIAS = re.compile(r"^\s*(\w+)(?:: TypeAlias)? = (?:NDArray|npt\.NDArray)\[", re.MULTILINE)
PARTICIPLE = re.compile(
    r"^_*(?!need|feed|seed|speed|embed|shed|red)(\w*[a-z]ed|made|drawn|kept|told|taken|found|chosen"
    r"|given|built|seen|said|written|grown|laid|lit|held|left|lost|spent|known|shown)(_|$)"
)
STARTS = ("look", "map_photo")
"""Functions whose first argument is walked through the files."""
VERBS = {"look": "look", "tint": "tint", "assay": "assay", "sheet": "run_sheet"}
LISTS = {
    "cli/main.py": "from .{0} import {0}",
    "docs/index.md": "`{0}`",
    "benchmarks/fuzz/lines.py": '"{0}": (',
}
"""Files kept by hand that name every verb, and how."""
FILLS_IN = "def all_verbs"
"""What stands in a list that finds by itself the verbs it does not name: no place of a new one."""


def counted_lines(module: Module) -> int:
    """Lines of code: no blanks, comments, docstrings and imports; other bare strings count."""
    lines = module.text.splitlines()
    code = {i for i, line in enumerate(lines, 1) if line.strip() and line.strip()[0] != "#"}
    for node in module.nodes:
        if isinstance(node, ast.Import | ast.ImportFrom):
            code -= set(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    for text in docstrings(module):
        code -= set(range(text.lineno, (text.end_lineno or text.lineno) + 1))
    return len(code)


def docstrings(module: Module) -> Iterator[ast.Constant]:
    """The docstrings of a module, its classes and functions."""
    for node in module.nodes:
        if isinstance(node, ast.Module | ast.ClassDef | Function) and node.body:
            first = node.body[0]
            text = first.value if isinstance(first, ast.Expr) else None
            if isinstance(text, ast.Constant) and isinstance(text.value, str):
                yield text


def texts(module: Module, docs: bool) -> Iterator[str]:
    """String literals, parts of formatted ones too; docstrings only if asked for."""
    apart = set() if docs else {id(one) for one in docstrings(module)}
    for node in module.nodes:
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in apart:
            yield node.value


def functions(module: Module) -> Iterator[Function]:
    """All functions, methods and inner functions."""
    return (node for node in module.nodes if isinstance(node, Function))


def body_lines(function: Function) -> int:
    """Lines below the signature and the docstring."""
    body = function.body[1:] if ast.get_docstring(function) is not None else function.body
    return (function.end_lineno or 0) - body[0].lineno + 1 if body else 0


def positional(function: Function, method: bool) -> int:
    """Parameters that may be given by place; ``self`` and ``cls`` are none."""
    static = any(isinstance(one, ast.Name) and one.id == "staticmethod" for one in
                 function.decorator_list)  # fmt: skip
    count = len(function.args.posonlyargs) + len(function.args.args)
    return count - (1 if method and not static else 0)


def public_functions(tree: ast.Module) -> Iterator[tuple[str, Function, bool]]:
    """Name, function and whether it is a method: no part of the name starts with an underscore."""
    for node in tree.body:
        if isinstance(node, Function) and not node.name.startswith("_"):
            yield node.name, node, False
        if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
            for inner in node.body:
                if isinstance(inner, Function) and not inner.name.startswith("_"):
                    yield f"{node.name}.{inner.name}", inner, True


class Figures:
    """The figures of one tree; each is a list of what is counted."""

    def __init__(self, root: Path) -> None:
        self.root, self.house = root, House(root)
        self.modules = self.house.modules
        self.library = {
            name: one for name, one in self.modules.items() if name.startswith("oxhue.optics")
        }

    def name(self, module: Module) -> str:
        """Where a module lies, below the root."""
        return module.path.relative_to(self.root).as_posix()

    def rooms(self) -> dict[str, tuple[int, int]]:
        """Lines and lines of code of each folder; those of the library by themselves."""
        found: dict[str, tuple[int, int]] = {}
        for module in self.modules.values():
            parts = self.name(module).split("/")[:-1]
            room = "/".join(parts[:2] if parts[0] == "optics" else parts[:1])
            lines, code = found.get(room, (0, 0))
            found[room] = lines + len(module.text.splitlines()), code + counted_lines(module)
        return found

    def twice(self) -> list[str]:
        """Class names used twice or more, with an underscore before them or without."""
        names = Counter(
            node.name.lstrip("_")
            for module in self.modules.values()
            for node in module.nodes
            if isinstance(node, ast.ClassDef)
        )
        return [f"{name} x{count}" for name, count in sorted(names.items()) if count > 1]

    def files(self, wanted: Callable[[int], bool]) -> list[str]:
        """Files by their number of lines; those that only make a folder a package left out."""
        sizes = {self.name(one): len(one.text.splitlines()) for one in self.modules.values()}
        return [f"{name} {size}" for name, size in sizes.items()
                if wanted(size) and not name.endswith("__init__.py")]  # fmt: skip

    def long_functions(self, reasoned: bool) -> list[str]:
        """Functions of more than forty lines, with a stated reason or without one."""
        found = []
        for module in self.modules.values():
            lines = module.text.splitlines()
            for one in functions(module):
                has = any(REASON in line for line in lines[one.lineno - 1 : one.end_lineno])
                if body_lines(one) > LONG_FUNCTION and has == reasoned:
                    found.append(f"{self.name(module)}:{one.name} {body_lines(one)}")
        return found

    def many_positional(self, methods: bool) -> list[str]:
        """Public functions of the library that take more than three values by place."""
        return [
            f"{self.name(module)}:{name} {positional(one, method)}"
            for module in self.library.values()
            for name, one, method in public_functions(module.tree)
            if method == methods and positional(one, method) > POSITIONAL
        ]

    def many_positional_at_door(self) -> list[str]:
        """Those among them that are exported."""
        return [
            f"{one.name} {positional(one, False)}"
            for _, one in self.house.door()
            if isinstance(one, Function) and positional(one, False) > POSITIONAL
        ]

    def read_by_people(self) -> list[str]:
        """Old-fashioned words where a user meets them; the help is the docstrings of ``cli``."""
        found = []
        for module in self.modules.values():
            help_too = self.name(module).startswith("cli/")
            for text in texts(module, help_too):
                found += [f"{self.name(module)}: {word}" for word in WORDS.findall(text)]
        shown = [self.root / "README.md", *sorted((self.root / "docs").rglob("*.md"))]
        shown += sorted((self.root / "page" / "static").glob("*.*"))
        return found + [one for path in shown for one in self._words(path)]

    def in_all_source(self) -> list[str]:
        """Old-fashioned words in code, comments and docstrings, tests and tools too."""
        folders = (*FOLDERS, "tests", "benchmarks", "tools")
        paths = [path for name in folders for path in sorted((self.root / name).rglob("*"))]
        kinds = (".py", ".pyi", ".toml", ".js", ".html", ".css")
        wanted = (
            path for path in paths if path.suffix in kinds and "measure_house" not in path.name
        )
        return [one for path in wanted for one in self._words(path)]

    def _words(self, path: Path) -> list[str]:
        if not path.exists():
            return []
        found = WORDS.findall(path.read_text(encoding="utf-8"))
        return [f"{path.relative_to(self.root).as_posix()}: {word}" for word in found]

    def flags(self) -> list[str]:
        """Mentions of the command line in the library's literals."""
        return [
            f"{self.name(module)}: {mention}"
            for module in self.library.values()
            for text in texts(module, docs=False)
            for mention in FLAG.findall(text)
        ]

    def aliases(self) -> list[str]:
        """Own names for arrays, each time one is defined."""
        names = Counter(name for one in self.modules.values() for name in ALIAS.findall(one.text))
        return [f"{name} x{count}" for name, count in names.most_common() for _ in range(count)]

    def participles(self) -> list[str]:
        """Functions whose name starts with a past participle, by its form: a rough count."""
        return [
            f"{self.name(module)}:{one.name}"
            for module in self.modules.values()
            for one in functions(module)
            if PARTICIPLE.match(one.name)
        ]

    def places(self, verb: str, function: str) -> list[str]:
        """Where a verb is written: its folder, its options, and each file that lists or shows it.

        Counted are files of the door, the command line and what shows answers that import from its
        folder, and those of ``LISTS`` that name it. Left out are the page, whose questions are
        their own, the tests, what is generated, and other verbs that use its function.
        """
        home = self.house.written_in(function)[0]
        folder = home if ".jobs." in home else home.rpartition(".")[0]
        shows = re.compile(r"oxhue(\.cli\.(?!demo)|\.optics\.(show|report)\.|$)")
        places = [folder]
        for name, taken in self.house.imports.items():
            known = any(f"{origin}.".startswith(f"{folder}.") for origin, _ in taken.values())
            other = "\nPANEL = " in self.modules[name].text and name != f"oxhue.cli.{verb}"
            if shows.match(name) and known and not other:
                places.append(self.name(self.modules[name]))
        stub = self.root / "oxhue" / "__init__.pyi"
        written = stub.exists() and "tools/write_door.py" in stub.read_text(encoding="utf-8")
        if not written and any(one.startswith(folder) for one, _ in self.house.door()):
            places.append("the list of the front door")
        for path, mention in LISTS.items():
            kept = self.root / path
            text = kept.read_text(encoding="utf-8") if kept.exists() else ""
            if mention.format(verb) in text and FILLS_IN not in text:
                places.append(path)
        return places


def show_rooms(rooms: dict[str, tuple[int, int]]) -> None:
    """Print the lines of code, then those of each room, the largest first."""
    print(f"lines of code, without imports: {sum(code for _, code in rooms.values())}")
    for room, (inside, code) in sorted(rooms.items(), key=lambda one: -one[1][0]):
        print(f"    {room}: {inside}, of code {code}")


def show(figures: Figures, listed: bool) -> None:
    """Print a line for each figure."""
    modules = figures.modules.values()
    stubs = [path for name in FOLDERS for path in (figures.root / name).rglob("*.pyi")]
    lines = sum(len(one.text.splitlines()) for one in modules)
    of_stubs = sum(len(path.read_text("utf-8").splitlines()) for path in stubs)
    print(f"lines of the package, stubs included: {lines + of_stubs} ({of_stubs} in stubs)")
    show_rooms(figures.rooms())
    print(f"files: {len(figures.modules)}; functions: "
          f"{sum(1 for one in modules for _ in functions(one))}")  # fmt: skip
    rows = {
        "class names used twice": figures.twice(),
        f"files over {LONG_FILE} lines": figures.files(lambda size: size > LONG_FILE),
        f"files under {SHORT_FILE} lines": figures.files(lambda size: size < SHORT_FILE),
        f"functions over {LONG_FUNCTION} lines": figures.long_functions(reasoned=False),
        "the same with a reason stated": figures.long_functions(reasoned=True),
        "public functions with more than three by place": figures.many_positional(methods=False),
        "public methods with more than three by place": figures.many_positional(methods=True),
        "functions of the door with more than three": figures.many_positional_at_door(),
        "old-fashioned words, for users": figures.read_by_people(),
        "old-fashioned words, in all source": figures.in_all_source(),
        "flags and commands in the library's texts": figures.flags(),
        "definitions of array aliases": figures.aliases(),
        "functions named by a participle, about": figures.participles(),
    }
    for title, found in rows.items():
        print(f"{title}: {len(found)}")
        if listed:
            print("".join(f"    {one}\n" for one in dict.fromkeys(found)), end="")
    for verb, function in VERBS.items():
        places = figures.places(verb, function)
        print(f"places of the verb {verb}: {len(places)}")
        if listed:
            print("".join(f"    {one}\n" for one in places), end="")
    for start in STARTS:
        walked = walk(figures.house, start)
        files = len(set(walked.stops))
        print(
            f"walk of {start}: {len(walked.stops)} stops, {files} files, {walked.returns} returns"
        )
        if listed:
            print("".join(f"    {one}\n" for one in walked.stops), end="")


def main() -> None:
    """Print the figures of a tree."""
    parser = argparse.ArgumentParser(prog="python -m tools.measure_house")
    parser.add_argument("root", nargs="?", type=Path, default=Path(__file__).parents[1])
    parser.add_argument("--list", action="store_true", help="name what is counted")
    options = parser.parse_args()
    show(Figures(options.root.resolve()), options.list)


if __name__ == "__main__":
    main()
