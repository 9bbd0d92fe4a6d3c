"""The guide says what the program does: commands run, references fresh, nothing fetched."""

import re
from pathlib import Path

import pytest
import yaml

import oxhue as optics
from oxhue.cli.main import app
from tools.fill_examples import BLOCK, DOCS, README, bench, differs, pages, printed, shown
from tools.guide_docstrings import plain
from tools.guide_hooks import on_page_markdown, with_mathml, with_swatches, with_widths
from tools.write_commands import PAGE, page

ROOT = DOCS.parent
GUIDE = sorted(DOCS.rglob("*.md"))
UNITS = "nm|deg|C|K|s|min|mm|g|cm2|mbar|bits|sq|square|e"


LONG = {"photograph", "log", "tour", "answers", "test-pieces"}  # pages whose commands take seconds


@pytest.mark.parametrize(
    "path",
    [
        pytest.param(path, marks=pytest.mark.slow) if path.stem in LONG else path
        for path in pages()
        if path != README
    ],
    ids=lambda path: path.stem,
)
def test_commands_of_a_page_print_what_it_shows(path):
    text = path.read_text(encoding="utf-8")
    with bench():
        for block in BLOCK.finditer(text):
            for command, lines in shown(block):
                assert differs(lines, printed(command, block[1], block[2])) is None, command


@pytest.mark.parametrize("path", GUIDE, ids=lambda p: p.stem)
def test_every_command_shown_is_one_that_is_run(path):
    text = path.read_text(encoding="utf-8")
    run = [block[0].partition("```console")[2] for block in BLOCK.finditer(text)]
    every = [part.partition("```")[0] for part in text.split("```console")[1:]]
    assert [part.rpartition("```")[0] for part in run] == every
    assert all(line.startswith("$ oxhue ") for line in re.findall(r"^\$ .*", text, re.MULTILINE)
               if line != "$$")  # fmt: skip


@pytest.mark.parametrize("name", ["reference/python.md", "reports.md"])
def test_python_of_the_guide_runs(name, capsys):
    block = re.search(r"```python\n(.*?)```", (DOCS / name).read_text(encoding="utf-8"), re.DOTALL)
    with bench() as place:
        exec(compile(block[1], name, "exec"), {})
        assert name != "reports.md" or (place / "purple.pdf").stat().st_size > 1000
    capsys.readouterr()


def test_the_commands_page_is_fresh():
    """Run ``python -m tools.write_commands`` where this fails."""
    assert PAGE.read_text(encoding="utf-8") == page()


def test_every_verb_and_every_name_at_the_door_is_there():
    index = (DOCS / "index.md").read_text(encoding="utf-8")
    verbs = {command.name for command in app.registered_commands} - {"demo"}
    assert all(f"`{verb}`" in index for verb in verbs)
    reference = (DOCS / "reference" / "python.md").read_text(encoding="utf-8")
    listed = set(re.findall(r"^::: oxhue\.optics\.(\S+)", reference, re.MULTILINE))
    homes = optics._homes()
    assert listed == {f"{homes[name].removeprefix('.optics.')}.{name}" for name in homes}


def test_every_page_is_reached_and_every_picture_is_there():
    held = (ROOT / "mkdocs.yml").read_text(encoding="utf-8")
    named = set(re.findall(r": (\S+\.md)$", held, re.MULTILINE))
    assert named == {path.relative_to(DOCS).as_posix() for path in GUIDE}
    for path in GUIDE:
        for target in re.findall(r"\]\(([^)#]+)\)", path.read_text(encoding="utf-8")):
            assert (path.parent / target).exists(), f"{path.name}: {target}"


def test_the_glossary_has_every_quantity_with_a_unit():
    """Keys of the JSON that end in a unit, from the answers that are kept."""
    keys = set()
    for answer in (ROOT / "tests" / "snapshots" / "answers").rglob("*.json.txt"):
        keys |= set(re.findall(rf'"(\w+_(?:{UNITS}))":', answer.read_text("utf-8")))
    assert {"thickness_nm", "angle_deg", "mass_g", "below_mbar"} <= keys
    glossary = (DOCS / "reference" / "glossary.md").read_text(encoding="utf-8")
    defined = set(re.findall(r"`(\w+)`", glossary))
    assert keys <= defined


def test_nothing_of_the_guide_is_fetched_from_elsewhere():
    settings = yaml.load((ROOT / "mkdocs.yml").read_text(encoding="utf-8"), yaml.BaseLoader)
    assert settings["theme"]["font"] == "false"
    assert settings["strict"] == "true"
    for path in [*GUIDE, DOCS / "guide.css", ROOT / "mkdocs.yml"]:
        assert not re.search(r"https?://", path.read_text(encoding="utf-8")), path.name


def test_formulas_become_mathml_and_code_is_left_alone():
    text = with_mathml("an index $n$ and\n\n$$\nR = |r|^2\n$$\n")
    assert text.startswith("an index <span><math")
    assert 'display="block"' in text
    assert "$" not in text
    block = "<!-- run 1 -->\n```console\n$ oxhue look x\n$ oxhue look y\n```\n"
    assert on_page_markdown(block) == block.partition("\n")[2]
    assert with_mathml("costs 5$ and `$x$`") == "costs 5$ and `$x$`"


def test_a_code_of_a_colour_has_a_swatch_and_nothing_else_is_touched():
    shown = with_swatches('<span class="go">30 nm   #3c4fa1  blue</span> "#b08a3c"')
    assert '30 nm   <span class="swatch in-two" style="background: #3c4fa1"></span>#3c4fa1' in shown
    assert '"<span class="swatch" style="background: #b08a3c"></span>#b08a3c"' in shown
    for kept in ('<a href="#abcdef">x</a>', "&#123456;", "#12345", "#1234567", "docs/#abcdef"):
        assert with_swatches(kept) == kept


def test_docstrings_lose_the_marks_of_another_markup():
    told = "As :func:`~oxhue.optics.look` [1]_.\n\n.. [1] A paper."
    assert plain(told) == "As `look` [1].\n\n[1] A paper."


def test_the_guide_is_named_in_the_readme():
    assert "](docs/index.md)" in Path(README).read_text(encoding="utf-8")


def test_blocks_with_a_wide_table_say_how_wide_it_is():
    row = " 36 nm       31 to 42 nm   over 99 %     1st     TiO2, amorphous   <b>#763665</b>"
    said = "Next: heat it a little further and see which colour comes next. " * 3
    html = f"<pre><span></span><code>{said}\n{row}  \n</code></pre>"
    columns = len(row.replace("<b>", "").replace("</b>", ""))
    assert f'<code style="--columns: {columns}">' in with_widths(html)
    assert f'<span class="rows" tabindex="0">{row}  \n</span>' in with_widths(html)
    assert with_widths(html).count("rows") == 1  # sentences fold as before
    narrow = f"<pre><span></span><code>{said}\n 36 nm   31 nm   purple\n</code></pre>"
    assert with_widths(narrow) == narrow
