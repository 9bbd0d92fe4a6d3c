"""``oxhue assay`` as people and programs call it."""

import json

import pytest

from oxhue.cli.main import exit_code


def called(capsys, *words):
    code = exit_code(["assay", *words])
    out = capsys.readouterr()
    return code, out.out, out.err


def test_json_keeps_its_keys(capsys):
    code, out, err = called(
        capsys,
        "--metal",
        "Ti",
        "--seen",
        "golden",
        "--through",
        "clear",
        "--ohms",
        "open",
        "--json",
    )
    told = json.loads(out)
    assert code == 0
    assert err == ""
    assert {"verdict", "probabilities", "thickness_nm", "why", "next_check"} <= set(told)
    assert sum(told["probabilities"].values()) == pytest.approx(1.0)
    assert next(iter(told["probabilities"])) == "oxide"
    assert isinstance(told["why"], list)
    assert len(told["why"]) == 3
    assert told["hypotheses"][0]["example"]["front"]["srgb_hex"].startswith("#")
    assert told["interval90_nm"][0] < told["thickness_nm"] < told["interval90_nm"][1]


def test_text_starts_with_the_verdict(capsys):
    code, out, _ = called(capsys, "--metal", "Ti", "--seen", "golden", "--ohms", "open")
    assert code == 0
    first = out.splitlines()[0]
    assert first.startswith("A film on glass that looks golden and does not conduct: oxidised ti")
    assert "%" in first
    for head in ("  - the ohmmeter", "Next: ", "from behind", "times likelier"):
        assert head in out


def test_a_contradiction_is_told_and_ends_with_three(capsys):
    code, out, err = called(
        capsys, "--metal", "Ti", "--through", "transparent", "--ohms", "0.1ohm/sq", "--json"
    )
    told = json.loads(out)
    assert code == 3
    assert err == ""
    assert told["fits"] is False
    assert "contradict" in told["contradictions"][0]
    code, out, _ = called(capsys, "--metal", "Ti", "--through", "clear", "--ohms", "0.1ohm/sq")
    assert code == 3
    assert "none of these" in out.splitlines()[0]


def test_everything_at_once(capsys, tmp_path):
    chart = tmp_path / "a.svg"
    code, out, err = called(
        capsys, "--metal", "Ti", "--on", "glass 2mm", "--seen", "gold", "--behind", "gold",
        "--finish", "mirror", "--ohms", "150ohm", "--strip", "30x5mm", "--wipe", "stays",
        "--scratch", "hard", "--warmed", "same", "--guess", "60nm", "--pressure", "1e-5mbar",
        "--rate", "0.5nm/s", "--mass-gain", "0.6mg", "--area", "20cm2", "--chart", str(chart),
    )  # fmt: skip
    assert code == 0
    assert "titanium nitride" in out.splitlines()[0]
    assert chart.read_text().startswith("<?xml")
    assert "chart written" in err


def test_expect_lists_good_and_bad_films(capsys, tmp_path):
    code, out, _ = called(capsys, "--expect", "Ti 80nm on glass", "--json")
    told = json.loads(out)
    assert code == 0
    assert [row["oxidised"] for row in told["expected"]] == [0.0, 0.1, 0.5, 1.0]
    assert told["expected"][0]["front"]["name"] == "silver"
    chart = tmp_path / "e.png"
    code, out, _ = called(capsys, "--expect", "Ti 80nm on glass", "--chart", str(chart))
    assert code == 0
    assert "optical density 2.9" in out
    assert "insulates" in out
    assert chart.stat().st_size > 10_000


@pytest.mark.parametrize(
    ("words", "part"),
    [
        ([], "at least one thing"),
        (["--seen", "wobbly"], "wobbly"),
        (["--metal", "Tj", "--seen", "gold"], "'Tj'"),
        (["--seen", "gold", "--on", "gluss"], "gluss"),
        (["--ohms", "lots"], "35ohm/sq"),
        (["--strip", "30mmx5mm", "--seen", "gold"], "--ohms"),
        (["--area", "3cm2", "--seen", "gold"], "--mass-gain"),
        (["--pressure", "1e-5mbar", "--seen", "gold"], "go together"),
        (["--pressure", "1e-5mbar", "--rate", "1nm/s", "--seen", "gold"], "name the metal"),
        (["--expect", "Ti 80nm on glass", "--seen", "gold"], "leave out"),
        (["--expect", "Ti"], "Ti 80nm on glass"),
        (["--seen", "gold", "--chart", "x.gif"], ".png"),
        (["--seen", "gold", "--light", "moon"], "moon"),
    ],
)
def test_bad_input_is_one_sentence(capsys, words, part):
    code, out, err = called(capsys, *words)
    assert code == 2
    assert out == ""
    assert part in err
    assert len(err.strip().splitlines()) == 1
