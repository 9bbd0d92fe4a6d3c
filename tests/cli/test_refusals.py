"""Bad input: one sentence that says what is wrong, nothing on stdout, exit 2, no file."""

import pytest

from oxhue.cli.main import exit_code
from oxhue.optics.errors import InputError
from tests.cli.within import run

LOOK = ["look", "TiO2 45nm / Ti"]
ASSAY = ["assay", "--metal", "Ti", "--seen", "gold"]
SHEET = ["sheet", "Al 90nm / glass 4mm", "--source", "boat", "--distance", "30cm"]
GAUGE = {"--film": "TiO2(siefke2016)", "--on": "Ti(johnson1974)", "--seen": "purple"}


def look(**options):
    return [*LOOK, *(part for name, value in options.items() for part in (f"--{name}", value))]


def gauge(*more, **options):
    changed = GAUGE | {f"--{name}": value for name, value in options.items()}
    kept = [part for item in changed.items() if item[1] is not None for part in item]
    return ["gauge", *kept, *more]


BAD = [
    (["tinge"], "No such command 'tinge'"),
    (["?"], "a verb comes first: demo, page, look, tint, gauge, map, spectrum, assay"),
    (["--nonsense"], "No such option"),
    (["look"], "Missing argument 'STACK'; for example: oxhue look"),
    ([*LOOK, "more"], "unexpected extra argument"),
    ([*LOOK, "--nonsense"], "No such option"),
    (["tint", "Ti", "--kiln", "a.json"], "--kiln (Possible options: --coupons, --setup)"),
    ([*LOOK, "--angle"], "requires an argument"),
    (["look", ""], "expected a material"),
    (["look", "Tx 45nm / Ti"], "unknown material 'Tx'"),
    (["look", "TiO2 45 / Ti"], "needs a unit"),
    (["look", "TiO2 -45nm / Ti"], "cannot be negative"),
    (["look", "TiO2 nan nm / Ti"], "expected a thickness"),
    (["look", "TiO2 200..0nm / Ti"], "runs upwards"),
    (["look", "TiO2 0..1000000000nm / Ti"], "1,000,000,001 points; at most 1,000,000"),
    (["look", "TiO2 0..1nm step 1e-12nm / Ti"], "at most 1,000,000"),
    (["look", "1000000 x (SiO2 10nm / TiO2 10nm) / glass"], "a stack has at most 2000"),
    (["look", '"none.csv" 45nm / Ti'], "there is no file none.csv"),
    (["look", "TiO2 0..400nm step 0.001nm / Ti", "--json"], "400,001 stacks are too many to list"),
    (look(light="D66"), "did you mean D65?"),
    (look(light=""), "light '' is not one we know"),
    (look(observer="3"), "observer must be 2 or 10"),
    (look(observer="two"), "--observer"),
    (look(angle="95"), "between 0 and 90 degrees; 95 does not"),
    (look(angle="-5"), "between 0 and 90 degrees; -5 does not"),
    (look(angle="abc"), "--angle 'abc' is not a number"),
    (look(angle="nan"), "--angle 'nan' is not a number"),
    (look(angle="1e999"), "--angle '1e999' is not a number"),
    (look(angle="30nm"), "unknown unit 'nm'"),
    ([*LOOK, "--from", "side"], "'front' or 'back'"),
    ([*LOOK, "--from", "back"], "is opaque"),
    (look(chart="a.gif"), "written as .png, .svg, .pdf"),
    (look(chart="none/a.png"), "its folder does not exist"),
    (look(chart=""), "--chart is given an empty name"),
    (look(chart="a\0.png"), "--chart"),
    (["look", "TiO2 1,2nm / SiO2 1,2nm / C 1,2nm / Ti", "--chart", "a.png"], "one swept thickness"),
    (["look", "TiO2 2..8nm step 9nm / Ti", "--chart", "a.png"], "two thicknesses or more"),
    (["look", "TiO2 20,20nm / Ti", "--chart", "a.png"], "each above the one before"),
    (["look", "TiO2 45,20nm / Ti", "--chart", "a.png"], "each above the one before"),
    (gauge(film=None), "Missing option '--film'"),
    (gauge(on=None), "Missing option '--on'; for example: oxhue gauge --film TiO2 --on Ti"),
    (gauge(seen=None), "at least one colour seen"),
    (gauge(film=""), "holds an empty name"),
    (gauge(film="TiO2,"), "holds an empty name"),
    (gauge(film="TiO2,TiO2"), "listed twice"),
    (gauge(film="Tx"), "unknown material 'Tx'"),
    (gauge(film="TiO2->Ti"), "graded layer"),
    (gauge(on="Tx"), "unknown material 'Tx'"),
    (gauge(seen=""), "is no colour"),
    (gauge(seen="purpel"), "did you mean purple"),
    (gauge(seen="#12345"), "is no colour"),
    (gauge(seen="#gggggg"), "is no colour"),
    (gauge(seen="101,0,0"), "L* runs from 0 to 100"),
    (gauge(seen="50,200,0"), "a* and b* from -150 to 150"),
    (gauge(seen="purple angle=95"), "viewing angle of 95°"),
    (gauge(seen="purple angle=steep"), "'steep' is not a number"),
    (gauge(seen="purple angle=60 angle=30"), "more than once"),
    (gauge(how="eye"), "unknown kind of reading 'eye'"),
    (gauge(how=""), "unknown kind of reading ''"),
    (gauge(between="250..0nm"), "must run upwards"),
    (gauge(between="0..2000nm"), "within 0 to 1000 nm"),
    (gauge(between="5nm"), "not a range such as 0..250nm"),
    (gauge(between="0..250"), "has no unit"),
    (gauge(between="0..1e-9nm"), "too narrow"),
    (gauge(angle="95"), "viewing angle of 95°"),
    (gauge(angle="abc"), "'abc' is not a number"),
    (gauge(seed="-1"), "the seed is -1"),
    (gauge(seed="1.5"), "--seed"),
    (gauge(doubt="glare=2"), "glare goes to 0.9"),
    (gauge(doubt="index_spread=0.5"), "index_spread to 0.1"),
    (gauge(doubt="mood=1"), "unknown doubt 'mood'"),
    (gauge(doubt="glare"), "not a name and a number"),
    (gauge(light="D66"), "did you mean D65?"),
    (gauge(observer="3"), "observer must be 2 or 10"),
    (gauge(chart="a.gif"), "written as .png, .svg, .pdf"),
    (gauge(photo="none.png"), "--patch"),
    (gauge(patch="0,0,5,5"), "add --photo"),
    (
        gauge("--csv"),
        "--csv, --lines, --one-piece, --rising, --in-a-row and --leave-out-bad go with --readings",
    ),
    (
        gauge("--lines"),
        "--csv, --lines, --one-piece, --rising, --in-a-row and --leave-out-bad go with --readings",
    ),
    (gauge(readings="none.csv"), "--readings goes without"),
    (gauge(seen=None, readings="none.csv"), "none.csv"),
    (gauge(through="purple"), "nothing is seen through a film on Ti(johnson1974)"),
    (gauge(behind="purple"), "no back to look at"),
    (gauge(doubt="noise_de=1e300"), "it must be 0 to 200"),
    (gauge(doubt="discrepancy_de=1e300"), "it must be 0 to 200"),
    (gauge(doubt="white_balance_de=1e300"), "it must be 0 to 200"),
    ([*ASSAY, "--mass-gain", "1e300mg", "--area", "10cm2"], "up to 1 kg"),
    ([*ASSAY, "--mass-gain", "0.3mg", "--area", "1e-99cm2"], "on 0.0001 to 1e6 cm2"),
    ([*ASSAY, "--pressure", "1e-5mbar", "--rate", "1e-99nm/s"], "1e-06 to 10000 nm/s"),
    ([*ASSAY, "--pressure", "1e-5mbar", "--rate", "1e99nm/s"], "1e-06 to 10000 nm/s"),
    ([*ASSAY, "--ohms", "20ohm", "--strip", "1e99mmx5mm"], "0.001 mm to 1 km long"),
    (
        [*ASSAY, "--ohms", "20ohm", "--strip", "30mmx5mm", "--four-point", "1e-99mm"],
        "do not fit on a piece",
    ),
    ([*SHEET, "--every", "1e-99nm"], "at most 200 are taken"),
    ([*SHEET, "--wire-diameter", "0mm"], "it must be 0.005 to 20 mm"),
    (["assay", "--expect", "Al 1e-99nm on glass"], "at least 0.01 nm"),
    (["materials", "Tx"], "unknown material 'Tx'"),
    (["look", "TiO2 45nm / Ti", "--angle", "--json"], "--angle is given no value; --json stands"),
    (["look", "TiO2 45nm / Ti", "--angle", "--angle", "30"], "--angle is given no value; --angle"),
    (["look", "TiO2 45nm / Ti", "--angle", "30", "--angle=60"], "--angle is given twice, and only"),
    (["gauge", "--photo", "a.png", "--photo", "b.png"], "--photo is given twice, and only one"),
    (["map", "a.png", "--film", "TiO2", "--on", "Ti", "--out", ""], "--out is given an empty name"),
    (["look", "TiO2 45nm / Ti", "--chart="], "--chart is given an empty name"),
    (["demo", ""], "an empty name is given"),
    (["look", "TiO2 45nm / Ti", "--angle", "3e1x"], "--angle '3e1x' has the unknown unit 'x'"),
    (["gauge", "--seed", "1e3"], "--seed is a whole number such as 3, not '1e3'"),
    (["gauge", "--seed=x"], "--seed is a whole number such as 3, not 'x'"),
    (["log", "saw", "1.5", "--seen", "gold"], "RUN is a whole number such as 3, not '1.5'"),
    (["log", "show", "two"], "RUN is a whole number such as 3, not 'two'"),
    (["materials", ""], "not written as NAME"),
    (["materials", "--chart", "a.png"], "name it, as in 'oxhue materials TiO2'"),
    (["materials", "TiO2", "more"], "unexpected extra argument"),
    (["demo", "a", "b"], "unexpected extra argument"),
]


def case(arguments):
    return " ".join(arguments).encode("unicode_escape").decode()[:70]


@pytest.mark.parametrize(("arguments", "said"), BAD, ids=[case(one) for one, _ in BAD])
def test_bad_input_is_refused_in_one_sentence(arguments, said, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert exit_code(arguments) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert said in err
    assert err.startswith("oxhue: ")
    assert err.endswith("\n")
    assert err.count("\n") == 1
    assert "Traceback" not in err
    assert list(tmp_path.iterdir()) == []


def test_a_demo_folder_that_cannot_be_made_is_refused(capsys, tmp_path):
    (tmp_path / "file").write_text("in the way")
    assert exit_code(["demo", str(tmp_path / "file")]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert "cannot make the folder" in err


def test_a_refusal_leaves_an_old_chart_alone(capsys, tmp_path):
    old = tmp_path / "chart.png"
    old.write_bytes(b"old")
    assert exit_code([*gauge(seen="purpel"), "--chart", str(old)]) == 2
    assert capsys.readouterr().out == ""
    assert old.read_bytes() == b"old"


def test_a_parameter_is_called_by_the_option_or_the_place_of_its_verb(capsys, monkeypatch):
    def refuse(*_, **__):
        raise InputError("`angle` and `side` do not suit `stack`, nor `nothing_known`")

    monkeypatch.setattr("oxhue.optics.look.look.look", refuse)
    assert exit_code(LOOK) == 2
    assert capsys.readouterr().err == (
        "oxhue: --angle and --from do not suit STACK, nor nothing_known\n"
    )


def test_what_would_say_nothing_is_refused(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "empty.csv").touch()
    (tmp_path / "empty.jsonl").write_text("\n", encoding="utf-8")
    for line, said in (
        (["tint", "Ti", "--at", "450C", "--pass", "20s", "--passes", "0"], "--passes is 0"),
        (gauge("--doubt", "glare=0.1", "--doubt", "glare=0.2"), "glare is given twice"),
        (["log", "import", "empty.csv"], "empty.csv holds nothing"),
        (["log", "import", "empty.jsonl"], "empty.jsonl holds nothing"),
    ):
        code, out, err = run(capsys, *line)
        assert (code, out, said in err) == (2, "", True), err


def test_what_no_shell_hands_over_is_refused_before_a_parser_meets_it(capsys):
    for line in (
        ["look", "Ti\0 20nm / glass"], ["tint", "Ti", "--at", "4\x0050C"], ["\0"],
        ["log", "run", "kiln", "--heat-log", "\ud800"],
    ):  # fmt: skip
        code, out, err = run(capsys, *line)
        assert (code, out) == (2, "")
        assert ("holds half of a letter" if line[0] == "log" else "holds a NUL") in err
        assert ("--at" in err) == ("--at" in line)
