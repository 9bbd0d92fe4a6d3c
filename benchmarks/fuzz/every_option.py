"""Every option on every way of asking a verb: it changes the answer, or is refused.

The options come from the commands themselves; a line is a question of one of the ways below with
one option more. An option that leaves the answer as it was, unsaid, lets a person believe that it
counted: that is a failure, but for the few in ``THE_SAME``, each with its reason.
"""

from __future__ import annotations

import io
import json
import os
import re
import shutil
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from oxhue.cli import demo
from oxhue.cli.main import _parser, exit_code
from oxhue.optics.log.log import Log

GAUGE = ("gauge", "--film", "TiO2(siefke2016)", "--on", "Ti(johnson1974)")
SHEET = ("sheet", "Al 90nm / glass 4mm", "--distance", "20cm")
WAYS: dict[str, tuple[str, ...]] = {
    "look": ("look", "Ti 20nm / glass 1mm"),
    "look of a sweep": ("look", "TiO2 20..60nm step 20nm / glass 1mm"),
    "tint of a heat": ("tint", "Ti", "--at", "450C", "--for", "20min"),
    "tint of a flame": ("tint", "Ti", "--at", "600C", "--pass", "20s"),
    "tint of a plate": ("tint", "Ti", "--at", "250..450C", "--for", "20min"),
    "tint of a log": ("tint", "Ti", "--profile", "log.csv"),
    "tint of volts": ("tint", "Ti", "--volts", "25V"),
    "tint of many volts": ("tint", "Ti", "--volts", "20..60V"),
    "tint of a metal": ("tint", "Ti"),
    "tint for a colour": ("tint", "Ti", "--want", "blue"),
    "tint for a colour by volts": ("tint", "Ti", "--want", "blue", "--anodise"),
    "tint for a plate": (
        "tint", "Ti", "--want", "straw to blue", "--for", "20min", "--along", "100mm",
    ),
    "tint, all volts": ("tint", "Ti", "--anodise"),
    "gauge of a look": (*GAUGE, "--seen", "#50a1c8"),
    "gauge of a word": (*GAUGE, "--seen", "purple"),
    "gauge of a photo": (*GAUGE, "--photo", "photo.png", "--patch", "2,2,8,8"),
    "gauge of readings": (*GAUGE, "--readings", "readings.csv"),
    "gauge of spots": (*GAUGE, "--readings", "spots.csv", "--one-piece"),
    "map": ("map", "photo.png", *GAUGE[1:]),
    "spectrum": ("spectrum", "spectrum.csv", *GAUGE[1:]),
    "assay": ("assay", "--metal", "Ti", "--seen", "gold"),
    "assay of a run": (
        "assay", "--metal", "Ti", "--seen", "gold", "--jar", "jar.toml", "--rate", "0.3nm/s",
    ),
    "assay of a film": ("assay", "--expect", "Ti 80nm / glass"),
    "design": (
        "design", "--on", "glass 4mm", "--goal", "R>40% 450..650nm", "--with", "Al,SiO2",
        "--max-layers", "2", "--effort", "6", "--designs", "2",
    ),
    "sheet of a boat": (*SHEET, "--source", "boat"),
    "sheet of a wire": (
        *SHEET, "--source", "wire", "--wire-diameter", "0.4mm", "--wire-length", "100mm",
    ),
    "sheet of a coil": (
        *SHEET, "--source", "wire", "--wire-diameter", "0.4mm", "--wire-length", "300mm", "--coil",
        "5mm,1mm",
    ),
    "sheet of a point": (*SHEET, "--source", "point"),
    "sheet of a plane": (*SHEET, "--source", "plane"),
    "sheet of a cathode": ("sheet", "Ti 50nm / glass", "--source", "sputter", "--distance", "6cm"),
    "chamber": ("chamber", "--pumping", "2l/s"),
    "chamber of a rise": (
        "chamber", "--pumping", "2l/s", "--volume", "3l", "--rise", "5e-3mbar,5e-2mbar,60s",
    ),
    "materials": ("materials",),
    "materials of a name": ("materials", "TiO2"),
    "gauge with a log": (*GAUGE, "--seen", "purple", "--setup", "kiln"),
    "gauge kept in a log": (*GAUGE, "--seen", "purple", "--setup", "kiln", "--record"),
    "tint with a log": ("tint", "Ti", "--at", "450C", "--for", "20min", "--setup", "kiln"),
    "assay with a log": ("assay", "--seen", "gold", "--setup", "jar"),
    "sheet with a log": ("sheet", "Ti 40nm / glass", "--setup", "jar"),
    "log setup": ("log", "setup", "bell"),
    "log run of a jar": ("log", "run", "jar", "--current", "6.2A"),
    "log run of a sputter head": (
        "log", "run", "jar", "--source", "sputter", "--current", "90mA", "--volts", "480V",
    ),
    "log run of a kiln": ("log", "run", "kiln", "--at", "430C"),
    "log run like another": ("log", "run", "jar", "--like", "2"),
    "log saw": ("log", "saw", "2", "--piece", "dial", "--seen", "gold"),
    "log saw of a photo": (
        "log", "saw", "2", "--piece", "dial", "--photo", "photo.png", "--patch", "2,2,8,8",
    ),
    "log saw of a spectrum": ("log", "saw", "2", "--piece", "dial", "--spectrum", "spectrum.csv"),
    "log list": ("log", "list"),
    "log show": ("log", "show", "2"),
    "log learn of a jar": ("log", "learn", "jar"),
    "log learn of a kiln": ("log", "learn", "kiln"),
    "log next of a jar": ("log", "next", "jar", "--want", "Ti 40nm"),
    "log next of a kiln": ("log", "next", "kiln", "--want", "purple"),
    "log undo": ("log", "undo"),
    "log export": ("log", "export", "exported.csv"),
    "log import": ("log", "import", "clock-log.csv"),
    "coupons": ("coupons", "pieces.csv"),
    "coupons of strips": ("coupons", "strips.csv"),
}  # fmt: skip
"""Ways of asking, each by a question that is quick."""

FLAGS_OF_OUTPUT = {
    "--json", "--chart", "--report", "--csv", "--lines", "--save", "--out", "--record",
}  # fmt: skip
"""They change how the answer leaves; the tests of each verb see to what they write."""

ELSEWHERE = {"--cluster", "--trusted"}
"""Where the work is done never shows in an answer; the tests of clusters see to them."""

VALUES: dict[str, str] = {
    "--from": "back", "--angle": "37", "--light": "A", "--observer": "10", "--at": "400C",
    "--for": "7min", "--pass": "9s", "--profile": "log.csv", "--volts": "31V", "--want": "gold",
    "--along": "70mm", "--film": "200nm", "--coupons": "kiln.json", "--seed": "7", "--on": "Si",
    "--seen": "blue", "--through": "OD 1.5", "--behind": "grey", "--ohms": "40ohm/sq",
    "--before": "straw", "--between": "20..120nm", "--photo": "photo.png", "--patch": "3,3,5,5",
    "--white": "14,2,8,8", "--bare": "2,2,3,3", "--readings": "readings.csv", "--how": "card",
    "--doubt": "noise_de=20", "--numbers": "npz", "--measured": "reflectance",
    "--reference": "spectrum.csv", "--model": "cauchy", "--bandwidth": "12nm",
    "--checked": "absorption", "--metal": "Al", "--base-finish": "satin", "--finish": "mirror",
    "--strip": "30mmx5mm", "--four-point": "4.5", "--mass-gain": "0.4mg", "--area": "9cm2",
    "--wipe": "smears", "--scratch": "easy", "--warmed": "changes", "--guess": "30nm",
    "--pressure": "8e-4mbar", "--rate": "0.4nm/s", "--jar": "jar.toml", "--working-gas": "helium",
    "--working-pressure": "2e-2mbar", "--distance": "9cm", "--flush": "3,5mbar",
    "--trouble": "peels", "--expect": "Al 30nm / glass", "--goal": "T>30% 550nm",
    "--with": "Ag,TiO2", "--max-layers": "3", "--thinnest": "30nm", "--thickest": "60nm",
    "--total": "70nm", "--limit": "Al<20nm", "--outermost": "SiO2", "--light-from": "glass",
    "--tolerance": "4%", "--designs": "1", "--effort": "2", "--samples": "77", "--source": "plane",
    "--size": "50x50mm", "--made": "1:Al 80nm", "--tooling": "1.3", "--monitor": "550nm",
    "--witness": "Si", "--every": "30nm", "--offset": "40mm", "--tilt": "25", "--focus": "3",
    "--ring": "20mm", "--wire": "Mo", "--wire-diameter": "0.9mm", "--wire-length": "150mm",
    "--coil": "6mm,2mm", "--current": "9A", "--voltage": "321V", "--melted-at": "11A",
    "--cold-ohms": "0.2ohm", "--gas": "air", "--base-pressure": "3e-4mbar",
    "--leak": "1e-4mbar.l/s", "--pumping": "3l/s", "--volume": "7l", "--getter": "0.3m2",
    "--rise": "6e-3mbar,9e-2mbar,60s", "--outgassing": "2e-4mbar.l/s", "--residue": "air",
    "--ultimate": "4e-4mbar", "--tube": "1m,9mm", "--walls": "900cm2", "--gauge": "pirani",
    "--passes": "3", "--parts": "6", "--columns": "time_s, temperature_C", "--pumped": "44min",
    "--setup": "jar", "--run": "3", "--piece": "hand", "--log": "other.sqlite",
    "--kind": "kiln", "--place": "rim=7cm,2cm,30", "--note": "old", "--gauge-reading": "8e-3mbar",
    "--like": "2", "--planned": "Ti 40nm / glass", "--remarks": "cracked", "--thickness": "44nm",
    "--remark": "cracked", "--heat-log": "log.csv", "--charge": "120mg", "--mask": "a stencil",
    "--weight": "0.3mg on 9cm2", "--spectrum": "spectrum.csv", "--within": "40%",
    "--risk": "0%", "--kiln": "other", "--have": "spectrometer", "--weld": "dark straw",
}  # fmt: skip
"""For each option a value that is not its default."""

OF_A_VERB: dict[tuple[str, str], str] = {
    ("assay", "--through"): "dim",
    ("assay", "--ohms"): "40ohm/sq",
    ("gauge", "--film"): "SiO2",
    ("map", "--film"): "SiO2",
    ("map", "--at"): "4,4=45nm",
    ("map", "--profile"): "2,2,20,12",
    ("spectrum", "--film"): "SiO2",
    ("spectrum", "--between"): "20..90nm",
    ("chamber", "--for"): "5min",
    ("tint", "--tolerance"): "4",
    ("gauge", "--finish"): "satin",
    ("gauge", "--clear-layer"): "over",
    ("map", "--finish"): "satin",
    ("log", "--working-gas"): "argon",
    ("log", "--through"): "dim",
    ("log", "--metal"): "Cu",
}
"""Values where an option means something else to one verb."""

THE_SAME: dict[tuple[str, str], str] = {
    ("gauge of spots", "--in-a-row"): "so few spots are all read, in a row or not",
    ("gauge of readings", "--leave-out-bad"): "no row of these is bad",
    ("gauge of spots", "--leave-out-bad"): "no row of these is bad",
    ("gauge of a photo", "--have"): "so sure a reading has no further look",
    ("chamber of a rise", "--jar"): "what the line states of the jar comes before its file",
    ("gauge kept in a log", "--run"): "it says whose look is kept; the range may be as before",
    ("gauge kept in a log", "--piece"): "it says whose look is kept",
    ("log setup", "--log"): "it says where it is kept",
    ("log run like another", "--working-gas"): "that run was in argon",
    ("spectrum", "--measured"): "it says what the file says; another kind is refused",
    ("log saw of a spectrum", "--measured"): "it says what the file says; another kind is refused",
}
"""Ways and options whose answer may well be the same, each with its reason."""


@dataclass(frozen=True)
class Addition:
    """A way of asking and one option more."""

    way: str
    option: str
    line: tuple[str, ...]


def additions() -> Iterator[Addition]:
    """Every option of each way's verb that the way does not use yet."""
    for way, line in WAYS.items():
        for parameter in command_of(line).params:
            if parameter.param_type_name != "option":
                continue
            option = max(parameter.opts, key=len)
            if option in line or option in FLAGS_OF_OUTPUT | ELSEWHERE | {"--help"}:
                continue
            if getattr(parameter, "is_flag", False):
                yield Addition(way, option, (*line, option))
            elif value := OF_A_VERB.get((line[0], option)) or VALUES.get(option):
                yield Addition(way, option, (*line, option, value))


def without_value() -> set[str]:
    """Options of verbs asked here for which no value is given above."""
    tried = {(verb_of(one.line), one.option) for one in additions()}
    left = FLAGS_OF_OUTPUT | ELSEWHERE | {"--help"}
    found = set()
    for line in WAYS.values():
        for parameter in command_of(line).params:
            option = max(parameter.opts, key=len)
            used = any(option in way for way in WAYS.values() if verb_of(way) == verb_of(line))
            if parameter.param_type_name == "option" and option not in left and not used:
                name = verb_of(line), option
                found |= {" ".join(name)} if name not in tried else set()
    return found


def verbs() -> dict[str, Any]:
    """Every verb by its name, with its own verbs where it has some: ``log run``."""
    found: dict[str, Any] = {}
    for name, command in _parser().commands.items():
        below = getattr(command, "commands", None)
        found |= {f"{name} {own}": one for own, one in below.items()} if below else {name: command}
    return found


def verb_of(line: tuple[str, ...]) -> str:
    """The verb of a line, as :func:`verbs` names it."""
    return " ".join(line[:2]) if " ".join(line[:2]) in verbs() else line[0]


def command_of(line: tuple[str, ...]) -> Any:
    """The command of a line."""
    return verbs()[verb_of(line)]


def uncovered() -> set[str]:
    """Verbs that no way asks, but for those that answer nothing."""
    return set(verbs()) - {verb_of(line) for line in WAYS.values()}


_HOUR = re.compile(r"\d{4}-\d\d-\d\dT\d\d:")


@dataclass(frozen=True)
class Said:
    """What a line said: its exit code, its JSON without the files it names, and its refusal."""

    code: int
    answer: Any
    refusal: str


def ask(line: tuple[str, ...]) -> Said:
    """Run a line in this process, on a log as it was laid out."""
    for kept in Path().glob("*.kept"):
        shutil.copyfile(kept, kept.stem)
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        code = exit_code([*line, "--json"])
    answer = json.loads(out.getvalue()) if code in (0, 3) else None
    if isinstance(answer, dict):
        answer.pop("log", None)
    return Said(code, _without_hour(answer), err.getvalue())


def _without_hour(answer: Any) -> Any:
    """An answer without the times at which it was recorded."""
    if isinstance(answer, dict):
        return {name: _without_hour(one) for name, one in answer.items()}
    if isinstance(answer, list):
        return [_without_hour(one) for one in answer]
    return None if isinstance(answer, str) and _HOUR.match(answer) else answer


def fault(before: Said, added: Addition) -> str:
    """What is wrong with the answer to a line with one option more; empty if nothing is."""
    if (added.way, added.option) in THE_SAME:
        return ""
    after = ask(added.line)
    if after.code == 2:
        return "" if len(after.refusal) > 12 else "refused without a sentence"
    if (after.code, after.answer) == (before.code, before.answer):
        return f"{' '.join(added.line)}: {added.option} leaves the answer as it was"
    return ""


def lay_out(folder: Path) -> None:
    """The files that the ways and the values name."""
    from random import Random

    from .files import KINDS

    rng = Random(1)
    for kind in KINDS:
        (folder / {"photo": "photo.png"}.get(kind.name, kind.name)).write_bytes(kind.original(rng))
    spots = "\n".join(["id,hex", *(f"{i},#{100 - 4 * i:02x}{60 + 5 * i:02x}a0" for i in range(3))])
    (folder / "spots.csv").write_text(spots + "\n")
    (folder / "readings.csv").write_text("id,hex\na,#6a3fa0\nb,#50a1c8\n")
    (folder / "strips.csv").write_text("metal,volts,hex\nTi,20,#3c6fae\nTi,60,#d0c080\n")
    _lay_out_logs(folder)
    (folder / "jar.toml").write_text('volume = "3l"\nleak = "3e-4mbar.l/s"\npumping = "2l/s"\n')


def _lay_out_logs(folder: Path) -> None:
    """A log of a workshop and one with a run more, each kept to begin with again."""
    shutil.copyfile(Path(demo.__file__).with_name("clock-log.csv"), folder / "clock-log.csv")
    for name in ("oxhue-log.sqlite", "other.sqlite"):
        with Log.open(folder / name) as log:
            log.import_(folder / "clock-log.csv")
            if name == "other.sqlite":
                log.record("kiln", like=9)
                log.saw(15, piece="hand", seen="gold")
                log.record("jar", like=2)
                log.saw(16, piece="hand", on="glass", seen="gold", through="clear", ohms="open")
                log.saw(2, piece="hand", on="glass", seen="straw")
            else:
                for setup in ("jar", "kiln"):
                    log.learn(setup)
        shutil.copyfile(folder / name, folder / f"{name}.kept")


def main() -> None:
    """Ask every line in a folder of its own, and tell which options went unheard."""
    import sys
    import tempfile
    import time

    wanted = sys.argv[1:]
    with tempfile.TemporaryDirectory() as name:
        os.chdir(name)
        lay_out(Path(name))
        before: dict[str, Said] = {}
        for added in additions():
            if wanted and not any(word in added.way for word in wanted):
                continue
            if added.way not in before:
                said = before[added.way] = ask(WAYS[added.way])
                print(f"# {added.way}: {said.code} {said.refusal}", flush=True)
            begun = time.process_time()
            if wrong := fault(before[added.way], added):
                print(f"{wrong}  ({time.process_time() - begun:.1f} s)", flush=True)


if __name__ == "__main__":
    main()
