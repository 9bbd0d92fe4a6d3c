"""``oxhue chamber`` from the command line."""

import json

from oxhue.cli.main import exit_code

ASKED = [
    "chamber", "--volume", "3l", "--rise", "5e-3mbar,5e-2mbar,60s", "--pumping", "2l/s", "--tube",
    "1m,8mm", "--flush", "3,5mbar", "--gauge", "pirani", "--working-gas", "argon",
    "--working-pressure", "1e-2mbar",
]  # fmt: skip


def test_the_verb_answers_in_json(capsys):
    assert exit_code([*ASKED, "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert {"leak_mbar_l_s", "partial_mbar", "oxygen_per_metal", "branches"} <= set(plain)
    assert plain["working_pressure_mbar"] == 0.017


def test_a_file_describes_the_jar_and_options_change_it(capsys, tmp_path):
    path = tmp_path / "jar.toml"
    path.write_text('pumping = "2l/s"\nleak = "1e-3mbar.l/s"\n', encoding="utf-8")
    assert exit_code(["chamber", "--jar", str(path), "--leak", "2e-3mbar.l/s", "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["leak_mbar_l_s"] == 2e-3
    assert plain["jar"]["pump"]["speed_l_s"] == 2.0


def test_refusals_name_options(capsys):
    for arguments, option in (
        (["chamber"], "--pumping"),
        (["chamber", "--pumping", "2l/s", "--working-gas", "argon"], "--working-pressure"),
        (["chamber", "--pumping", "2l/s", "--tube", "1m"], "--tube"),
        (["chamber", "--pumping", "2l/s", "--rise", "1mbar"], "--rise"),
        (["chamber", "--pumping", "2l/s", "--gauge", "piranha"], "--gauge"),
        (["chamber", "--jar", "nowhere.toml"], "--jar"),
    ):
        assert exit_code(arguments) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert option in err
        assert err.count("\n") == 1
