"""What an import costs, and which names stand at the door."""

import inspect
import json
import pickle
import subprocess
import sys
from importlib.metadata import version
from typing import get_args, get_type_hints

import numpy as np
import pytest

import oxhue as optics
from oxhue.cli.main import exit_code
from oxhue.optics.kinds import Names, describe_kind

HEAVY = [
    "matplotlib", "scipy", "colour", "typer", "rich", "pandas", "PIL", "numpy",
    "joblib", "threadpoolctl", "distributed",
]  # fmt: skip


def loaded_after(program: str) -> set[str]:
    """Which heavy packages a fresh process has loaded when the program ends."""
    tail = f"import sys, json; print(json.dumps([m for m in {HEAVY} if m in sys.modules]))"
    ended = subprocess.run(
        [sys.executable, "-c", f"{program}\n{tail}"], capture_output=True, text=True, check=True
    )
    return set(json.loads(ended.stdout.splitlines()[-1]))


@pytest.mark.parametrize(
    ("program", "allowed"),
    [
        ("import oxhue.optics", set()),
        ("import oxhue.optics.errors, oxhue.optics.units", set()),
        ("import oxhue.optics.films.engine.transfer_matrix", {"numpy"}),
        ("import oxhue.optics.films.notation, oxhue.optics.films.solve", {"numpy"}),
        ("import oxhue.optics.colour.colour", {"numpy"}),
        ("import oxhue.optics.gauge.gauge, oxhue.optics.look.look", {"numpy"}),
        ("import oxhue.optics.report.html, oxhue.optics.report.terminal", {"numpy"}),
        ("import oxhue.cli.main", {"typer", "rich"}),
    ],
)
def test_an_import_loads_no_more_than_it_must(program, allowed):
    assert loaded_after(program) <= allowed


@pytest.mark.parametrize("arguments", [["--help"], ["gauge", "--help"], ["--version"], ["tinge"]])
def test_help_and_refusals_need_no_numbers(arguments):
    program = f"import oxhue.cli.main as cli; cli.exit_code({arguments})"
    assert loaded_after(program) <= {"typer", "rich"}


def test_the_engine_runs_without_the_colour_and_chart_packages():
    program = (
        "from oxhue import solve_arrays\n"
        "solve_arrays([[1.0], [2.4], [2.0 + 3.0j]], [45.0], [550.0])"
    )
    assert loaded_after(program) == {"numpy"}


def test_a_small_job_starts_nobody():
    program = (
        "import oxhue.cli.main as cli, os, contextlib\n"
        "with open(os.devnull, 'w') as sink, contextlib.redirect_stdout(sink):\n"
        "    cli.exit_code(['design', '--on', 'glass', '--goal', 'R>88% 550nm', '--with', 'Al',\n"
        "                   '--max-layers', '1', '--tolerance', '3%', '--samples', '20'])"
    )
    loaded = loaded_after(program)
    assert "numpy" in loaded
    assert not loaded & {"joblib", "distributed"}


def test_every_name_at_the_door_is_there_and_listed():
    for name in optics.__all__:
        assert getattr(optics, name).__name__.lower() == name.lower()
    assert dir(optics) == sorted([*optics.__all__, "__version__"])


def test_a_name_that_is_not_there_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        _ = optics.nonsense


def test_the_door_as_promised():
    wavelength_nm = np.arange(380.0, 781.0, 5.0)
    stack = optics.parse_stack("TiO2 0..200nm step 0.1nm / Ti")
    response = optics.solve(stack, wavelength_nm)
    for share in (response.R, response.T, response.A):
        assert share.shape == (2001, 81)
    appearance = optics.to_colour(response)
    for colour in (appearance.xyz, appearance.lab, appearance.srgb):
        assert colour.shape == (2001, 3)
    index = optics.load_material("TiO2").nk(wavelength_nm)
    assert (index.dtype, index.shape) == (np.dtype(complex), (81,))


def public_parts(one):
    """A public function; or a class, its fields, and its public methods and properties."""
    yield one
    for name, member in vars(one).items() if inspect.isclass(one) else ():
        plain = getattr(
            member, "__func__", getattr(member, "fget", getattr(member, "func", member))
        )
        if inspect.isfunction(plain) and not name.startswith("_"):
            yield plain


def annotations(part):
    names = Names(part.__globals__) if inspect.isfunction(part) else None
    return get_type_hints(part, localns=names, include_extras=True)


def package_types(hint):
    """The classes of the package that an annotation names; fields that no JSON lists are inside."""
    if "no JSON" in getattr(hint, "__metadata__", ()):
        return set()
    if inspect.isclass(hint) and not get_args(hint):
        return {hint} if hint.__module__.startswith("oxhue.") else set()
    return {found for part in get_args(hint) for found in package_types(part)}


def test_every_type_in_a_public_signature_is_exported():
    inside = {
        f"{name}: {kind.__name__}"
        for name in optics.__all__
        for part in public_parts(getattr(optics, name))
        for field, hint in annotations(inspect.unwrap(part)).items()
        for kind in package_types(hint)
        if not field.startswith("_") and kind.__name__ not in optics.__all__
    }
    assert inside == set()


STACK, PAIR = "TiO2 45nm / Ti", {"film": "TiO2(siefke2016)", "on": "Ti(johnson1974)"}
ASKED = {
    "look": {"stack": STACK},
    "gauge": PAIR | {"seen": "#73346a"},
    "tint": {"metal": "Ti", "at": "450C", "time": "20min"},
    "anodise": {"metal": "Ti", "volts": "25V"},
    "heat_strip": {"metal": "Ti"},
    "expect": {"film": "Ti 80nm / glass"},
    "tolerance": {"stack": STACK, "errors": "3%", "samples": 100},
    "load_material": {"name": "TiO2"},
    "list_materials": {"name": "TiO2"},
    "parse_goal": {"text": "R>90% 550nm"},
    "parse_stack": {"text": STACK},
    "hold": {"temperature": "450C", "time": "20min"},
}


@pytest.mark.parametrize("name", ASKED)
def test_text_is_taken_at_the_door(name):
    assert getattr(optics, name)(**ASKED[name]) is not None


def test_objects_are_taken_where_their_text_is():
    stack, heat = optics.parse_stack(STACK), optics.hold("450C", "20min")
    reading, goal = optics.parse_reading("purple"), optics.parse_goal("R<10% 550nm")
    errors, viewing = optics.parse_errors("3%"), optics.ViewingConditions("A")
    for name, text, objects in (
        ("look", {"stack": STACK, "conditions": "A"}, {"stack": stack, "conditions": viewing}),
        ("gauge", PAIR | {"seen": "purple"}, PAIR | {"seen": [reading]}),
        ("tint", {"metal": "Ti", "at": "450C", "time": "20min"}, {"metal": "Ti", "at": heat}),
        (
            "tolerance",
            {"stack": STACK, "errors": "3%", "goals": "R<10% 550nm"},
            {"stack": stack, "errors": errors, "goals": [goal]},
        ),
    ):
        function = getattr(optics, name)
        one, other = function(**text).to_dict(), function(**objects).to_dict()
        assert one | {"stack": None} == other | {"stack": None}  # written with its data sets


FUNCTIONS = [name for name in optics.__all__ if inspect.isfunction(getattr(optics, name))]
OPEN = {"ax", "readings"}  # matplotlib's own, and rows of any kind, which are read one by one


@pytest.mark.parametrize("name", FUNCTIONS)
def test_a_wrong_kind_is_refused_in_one_sentence(name):
    """Each argument in turn, the others left out: kinds are looked at before anything is missed."""
    function = getattr(optics, name)
    parameters = inspect.signature(function).parameters
    for wrong in parameters.keys() - OPEN:
        given = {one: value for one, value in ASKED.get(name, {}).items() if one != wrong}
        needed = [one for one, it in parameters.items() if it.default is it.empty]
        if set(needed) - {*given, wrong}:
            given = dict.fromkeys(needed, object())
        with pytest.raises(optics.InputError, match=r"^`\w+` must be .+, not [^\n]+$") as refused:
            function(**given | {wrong: object()})
        assert refused.value.parameter in {*needed, wrong}


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        (str | None, "text or None"),
        (tuple[float, float], "2 values: a number, a number"),
        (list[str], "a list of text"),
        (str | optics.Stack, "text or a Stack"),
    ],
)
def test_kinds_are_put_in_words(kind, words):
    assert describe_kind(kind) == words


def test_numbers_of_numpy_are_numbers_and_true_is_none():
    straight = optics.look(STACK, angle_deg=np.float64(0.0)).to_dict()
    assert straight == optics.look(STACK, angle_deg=0).to_dict()
    with pytest.raises(optics.InputError, match="`angle_deg` must be a number, not True"):
        optics.look(STACK, angle_deg=True)


def test_a_public_function_travels_to_another_process():
    assert pickle.loads(pickle.dumps(optics.look)) is optics.look


def test_no_more_than_three_arguments_go_by_place():
    """Nobody remembers the order of more."""
    many = {
        name: places
        for name in FUNCTIONS
        if (places := positional(inspect.signature(getattr(optics, name)))) > 3
    }
    assert set(many) <= STILL_BY_PLACE


STILL_BY_PLACE = {"read_spectrum", "solve_arrays"}
"""Of before the rule; the list only shrinks."""


def positional(signature):
    return sum(one.kind is not one.KEYWORD_ONLY for one in signature.parameters.values())


def test_objects_and_answers_have_a_short_repr_and_the_json_of_their_verb(capsys):
    shown = [
        optics.parse_stack("TiO2 0..200nm / Ti"),
        optics.load_material("TiO2"),
        optics.look("TiO2 0..200nm / Ti", spectrum=True),
        optics.gauge("TiO2", "Ti", "purple"),
    ]
    assert [len(repr(one)) for one in shown if len(repr(one)) >= 200] == []
    for arguments, result in (
        (["look", "TiO2 45nm / Ti", "--json"], optics.look("TiO2 45nm / Ti")),
        (["gauge", "--film", "TiO2", "--on", "Ti", "--seen", "purple", "--json"], shown[-1]),
    ):
        assert exit_code(arguments) == 0
        assert json.loads(capsys.readouterr().out) == json.loads(json.dumps(result.to_dict()))


def test_the_version_is_that_of_the_package():
    assert optics.__version__ == version("oxhue")
