"""What one verb knows all know: each material in each verb is answered, or refused for a reason."""

from pathlib import Path

import pytest

from tests.cli.within import run

pytestmark = pytest.mark.slow
DIAL = Path(__file__).parents[2] / "docs" / "examples" / "dial.jpg"
PLATE = DIAL.with_name("plate.csv")

ALLOYS = ("brass", "bronze", "nichrome", "steel", "304", "Ti-6Al-4V", "nickel silver")
CARBON = ("C", "graphite", "C(hydrogenated)", "lampblack")
BLENDS = ("Ti:TiO2 30%", "C:SiO2 30%", "C:air 90%", "brass->SiO2")
EVERY = (*ALLOYS, *CARBON, *BLENDS)
FEW = (
    "brass",
    "nickel silver",
    "lampblack",
    "C:SiO2 30%",
    "brass->SiO2",
)  # of verbs that take long

LOOSE = "its grains have air between them: write it as a mixture, 'C:air 90%'"
GRADED = {"brass->SiO2": "graded layer"}
AS_FILM = {"lampblack": LOOSE, **GRADED}
NO_GAS = {
    **dict.fromkeys(CARBON[:3], "how it takes up gas is not known"),
    **dict.fromkeys((CARBON[3], *BLENDS[1:3]), "use Ti, Zr"),
}
NO_LAW = dict.fromkeys((*BLENDS[:3],), "no law of oxidation is shipped for")
EXPECTED = {
    **dict.fromkeys((*CARBON, *BLENDS[:3]), "what to expect of a film is told for metals"),
    "brass->SiO2": "did you mean brass",
}


def deposited(source):
    return lambda m: ["sheet", f"{m} 50nm / glass", "--source", source, "--distance", "30cm"]


VERBS = {
    "look": (lambda m: ["look", f"{m} 50nm / glass"], EVERY, {"lampblack": LOOSE}),
    "look on": (lambda m: ["look", f"TiO2 45nm / {m}"], EVERY, AS_FILM),
    "gauge": (lambda m: ["gauge", "--film", m, "--on", "glass", "--seen", "grey"], FEW, AS_FILM),
    "gauge on": (lambda m: ["gauge", "--film", "TiO2", "--on", m, "--seen", "blue"], FEW, AS_FILM),
    "map": (
        lambda m: ["map", str(DIAL), "--film", m, "--on", "glass", "--piece", "420,220,24,24"],
        FEW, AS_FILM,
    ),
    "map on": (
        lambda m: ["map", str(DIAL), "--film", "TiO2", "--on", m, "--piece", "420,220,24,24"],
        FEW, AS_FILM,
    ),
    "spectrum": (lambda m: ["spectrum", str(PLATE), "--film", m, "--on", "Ti"], FEW, AS_FILM),
    "assay": (
        lambda m: ["assay", "--metal", m, "--seen", "grey"], EVERY,
        {"brass->SiO2": "cannot be assayed; did you mean brass"},
    ),
    "assay on": (lambda m: ["assay", "--metal", "Ti", "--on", m, "--seen", "grey"], FEW, AS_FILM),
    "assay expect": (lambda m: ["assay", "--expect", f"{m} 50nm / glass"], EVERY, EXPECTED),
    "sheet": (
        deposited("boat"), EVERY,
        {"lampblack": LOOSE, "C:air 90%": "air cannot be deposited in vacuum"},
    ),
    "sheet, sputtered": (
        deposited("sputter"), EVERY,
        {"lampblack": LOOSE, "C:air 90%": "air cannot be deposited in vacuum"},
    ),
    "sheet on": (
        lambda m: ["sheet", f"Al 50nm / {m}", "--source", "boat", "--distance", "30cm"],
        EVERY, AS_FILM,
    ),
    "design": (
        lambda m: ["design", "--on", "glass", "--goal", "R>10% 450..650nm", "--with", f"{m},SiO2",
                   "--max-layers", "2", "--designs", "1", "--effort", "1"],
        EVERY, {"lampblack": LOOSE},
    ),
    "chamber": (
        lambda m: ["chamber", "--volume", "3l", "--leak", "1e-3mbar.l/s", "--pumping", "2l/s",
                   "--metal", m],
        EVERY, NO_GAS,
    ),
    "tint": (
        lambda m: ["tint", m, "--at", "300C", "--for", "10min"], EVERY,
        {**dict.fromkeys(CARBON, "takes no colour from heat"), **NO_LAW,
         "brass->SiO2": "no law of oxidation is shipped for"},
    ),
    "materials": (
        lambda m: ["materials", m], EVERY,
        {"lampblack": LOOSE, **dict.fromkeys(BLENDS, "has no data of its own")},
    ),
}  # fmt: skip
"""How a verb is asked of a material, of which, and what it refuses with which words."""


@pytest.mark.parametrize("verb", VERBS)
def test_every_material_is_answered_or_refused_for_a_reason(verb, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    ask, materials, refused = VERBS[verb]
    wrong = {}
    for name in materials:
        code, out, err = run(capsys, *ask(name))
        reason = refused.get(name)
        held = reason in err and out == "" if reason else code in (0, 3) and out
        if not held or (reason and code != 2):
            wrong[name] = code, err or out[:200]
    assert not wrong


def test_test_pieces_of_what_stands_for_a_metal_teach_its_kiln(capsys, tmp_path):
    for metal, said in (("Ti-6Al-4V", "grade 5"), ("nickel silver", "nickel silver"),
                        ("soot", "burns away")):  # fmt: skip
        (tmp_path / "pieces.csv").write_text(
            f"id,metal,temperature_C,time_min,word\na,{metal},330,20,purple\n", encoding="utf-8"
        )
        code, out, err = run(capsys, "coupons", str(tmp_path / "pieces.csv"))
        assert code == (2 if metal == "soot" else 0)
        assert said in (out + err)
