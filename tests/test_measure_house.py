"""What is measured of the package, on a package of five small files."""

import ast
from pathlib import Path

from tools.house_walk import House, Module, walk
from tools.measure_house import Figures, counted_lines

FILES = {
    "optics/look.py": '''
"""A module."""
from .notation import parse
from .colour import name, shade
FloatArray = NDArray[float]

def look(text, a=1, b=2, c=3):
    stack = parse(text.strip(), text)  # the walk goes with the second
    plain = len("nothing of it")
    shade(plain)
    return [name(layer) for layer in stack.layers]
''',
    "optics/notation.py": """
from .colour import name
def parse(_, text):
    found = []
    found.append(text)
    return inner(found)
def inner(found):
    if not found:
        raise ValueError(name(found), "use --film")
    return found
""",
    "optics/colour.py": '''
from .notation import inner
class _Colour: ...
def name(layer):
    return inner(layer), lightness(layer)
def lightness(layer):
    """Lest it be counted."""
    return "anew"
def shade(plain): ...
''',
    "optics/photo.py": "def map_photo(path): ...\nclass Colour: ...\n",
    "oxhue/__init__.pyi": "from .optics.look import look as look\n",
}


def laid_out(root, changed=None):
    for name, text in (FILES | (changed or {})).items():
        (root / name).parent.mkdir(exist_ok=True)
        (root / name).write_text(text, encoding="utf-8")
    return root


def stops(walked):
    return [one.rpartition(".")[2] for one in walked.stops]


def test_a_walk_follows_the_value_through_the_files(tmp_path):
    walked = walk(House(laid_out(tmp_path)), "look")
    assert stops(walked) == ["look", "notation", "colour"]
    assert walked.returns == 0
    assert ("oxhue.optics.colour", "shade") not in walked.walked


def test_a_file_entered_again_is_a_return(tmp_path):
    colour = FILES["optics/colour.py"].replace("import inner", "import lightness")
    colour = colour.replace("inner(layer), ", "").replace("def lightness", "def unused")
    notation = FILES["optics/notation.py"] + "def lightness(layer): ...\n"
    walked = walk(
        House(laid_out(tmp_path, {"optics/colour.py": colour, "optics/notation.py": notation})),
        "look",
    )
    assert stops(walked) == ["look", "notation", "colour", "notation"]
    assert walked.returns == 1


def test_figures_name_what_they_count(tmp_path):
    figures = Figures(laid_out(tmp_path))
    assert figures.twice() == ["Colour x2"]
    assert figures.many_positional_at_door() == ["look 4"]
    assert figures.many_positional(methods=False) == ["optics/look.py:look 4"]
    assert figures.flags() == ["optics/notation.py: --film"]
    assert figures.aliases() == ["FloatArray x1"]
    assert figures.read_by_people() == ["optics/colour.py: anew"]
    assert figures.in_all_source() == ["optics/colour.py: Lest", "optics/colour.py: anew"]


def test_lines_of_code_are_without_imports_docstrings_and_comments():
    text = (
        '"""Doc."""\nimport ast\n\n# why\nx = 1\ndef f():\n    """Doc\n    more."""\n    return x\n'
    )
    assert counted_lines(Module(Path("a.py"), text, ast.parse(text))) == 3


def test_each_room_has_its_lines(tmp_path):
    rooms = Figures(laid_out(tmp_path, {"optics/log/log.py": '"""Doc."""\n\nX = 1\n'})).rooms()
    assert rooms["optics/log"] == (3, 1)
    assert rooms.keys() == {"optics", "optics/log"}
