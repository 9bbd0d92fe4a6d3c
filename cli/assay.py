"""``oxhue assay``: is it metal, oxide, or something else?"""

from __future__ import annotations

from typing import Annotated, Any

import typer

from .options import (
    BY_DAYLIGHT,
    LOGGED,
    AsJson,
    Chart,
    How,
    Light,
    LogFile,
    Observer,
    OfPiece,
    OfRun,
    OfSetup,
    Report,
    Seed,
    Text,
    Texts,
    answer,
    check_log_options,
    option,
    parse_viewing,
    read_known,
    record_look,
    refuse_unused,
    was_typed,
)

PANEL = "How thick is it, and what is it?", 4

_OF_A_PIECE = (
    "metal", "on", "base_finish", "strip", "four_point", "area", "pressure", "rate", "jar",
    "working_gas", "working_pressure", "distance", "flush", "trouble", "how", "seed", "setup",
    "of_run", "piece", "log_file", "record",
)  # fmt: skip
_NOT_KEPT = ("mass_gain", "guess")  # no look of a log
METER, TESTS = "Measured with a meter or scales", "Small tests, and what is known of the run"


def assay(
    context: typer.Context,
    metal: Annotated[
        str, option("--metal", "METAL", "What was deposited: Ti, Al, C ... or unknown.")
    ] = "unknown",
    on: Annotated[str, option("--on", "BASE", "What the film is on.")] = "glass",
    base_finish: Annotated[
        Text, option("--base-finish", "LOOK", "Of the bare base: smooth, satin or rough.")
    ] = None,
    seen: Annotated[Texts, option("--seen", "COLOUR", "Film side: a word, #hex or L,a,b.")] = None,
    behind: Annotated[
        Texts, option("--behind", "COLOUR", "Seen from behind, through the base.")
    ] = None,
    through: Annotated[
        Texts, option("--through", "LIGHT", "opaque, dim, clear, 'OD 2.4', 6%, a colour.")
    ] = None,
    finish: Annotated[
        Texts,
        option("--finish", "LOOK", "mirror, glossy, satin, dull, sooty, rainbow or black."),
    ] = None,
    ohms: Annotated[
        Text, option("--ohms", "READING", "open, 120ohm or 35ohm/sq.", panel=METER)
    ] = None,
    strip: Annotated[
        Text,
        option("--strip", "LxW", "Film between the contacts, as in 30mmx5mm.", panel=METER),
    ] = None,
    four_point: Annotated[
        Text,
        option(
            "--four-point",
            "FACTOR",
            "Four points in a row: factor to ohms per square, 'wide', or their spacing.",
            panel=METER,
        ),
    ] = None,
    mass_gain: Annotated[
        Text, option("--mass-gain", "MASS", "Mass gained, as in 0.35mg.", panel=METER)
    ] = None,
    area: Annotated[
        Text, option("--area", "AREA", "Area that gained it, as in 12cm2.", panel=METER)
    ] = None,
    wipe: Annotated[
        Text, option("--wipe", "EFFECT", "A dry pad: off, smears or stays.", panel=TESTS)
    ] = None,
    scratch: Annotated[
        Text,
        option("--scratch", "EFFECT", "A wooden stick marks it: easy or hard.", panel=TESTS),
    ] = None,
    warmed: Annotated[
        Text,
        option("--warmed", "EFFECT", "Gentle heating in air: changes or same.", panel=TESTS),
    ] = None,
    guess: Annotated[
        Text, option("--guess", "THICKNESS", "Thickness it was meant to have.", panel=TESTS)
    ] = None,
    pressure: Annotated[
        Text,
        option(
            "--pressure", "PRESSURE", "In the chamber while it grew, as in 3e-5mbar.", panel=TESTS
        ),
    ] = None,
    rate: Annotated[
        Text, option("--rate", "RATE", "How fast it grew, as in 0.5nm/s.", panel=TESTS)
    ] = None,
    jar: Annotated[
        Text, option("--jar", "FILE", "Description of the chamber, jar.toml.", panel=TESTS)
    ] = None,
    working_gas: Annotated[
        Text, option("--working-gas", "GAS", "Let in for the run: argon.", panel=TESTS)
    ] = None,
    working_pressure: Annotated[
        Text,
        option("--working-pressure", "PRESSURE", "With it, as in 5e-3mbar.", panel=TESTS),
    ] = None,
    distance: Annotated[
        Text, option("--distance", "LENGTH", "From source to piece, 10cm if unsaid.", panel=TESTS)
    ] = None,
    flush: Annotated[
        Text, option("--flush", "N,PRESSURE", "Puffs before the run, as in 3,5mbar.", panel=TESTS)
    ] = None,
    trouble: Annotated[
        Texts,
        option(
            "--trouble", "WORD", "What else is wrong: peels, pinholes, rainbow, dull.", panel=TESTS
        ),
    ] = None,
    expect: Annotated[
        Text, option("--expect", "FILM", "Instead: what 'Ti 80nm / glass' shows.")
    ] = None,
    setup: OfSetup = None,
    of_run: OfRun = None,
    piece: OfPiece = "piece",
    record: Annotated[
        bool, option("--record", None, "Keep what was noticed in the log.", panel=LOGGED)
    ] = False,
    log_file: LogFile = None,
    how: How = None,
    light: Light = "D65",
    observer: Observer = 2,
    seed: Seed = 1,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """What a film is: metal, oxide, nitride, carbon ..., from what was noticed of it.

    Example: oxhue assay --metal Ti --seen gold --through clear --ohms open
    """
    from ..optics.assay.assay import assay as weigh
    from ..optics.errors import InputError

    viewing = parse_viewing(light, observer)
    check_log_options(context, setup=setup, record=record)
    if record:
        refuse_unused(context, BY_DAYLIGHT, "light", "observer")
    noticed: dict[str, Any] = {
        "seen": seen, "behind": behind, "through": through, "finish": finish, "ohms": ohms,
        "mass_gain": mass_gain, "wipe": wipe, "scratch": scratch, "warmed": warmed, "guess": guess,
    }  # fmt: skip
    if expect is not None:
        from ..optics.assay.expectation import expect as expect_of

        if any(noticed.values()):
            raise InputError("--expect tells what a film should show; leave out what was noticed")
        refuse_unused(context, "--expect tells what a film should show", *_OF_A_PIECE)
        answer(expect_of(expect, conditions=viewing), as_json, chart, report)
        return
    run = {
        "pressure": pressure, "rate": rate, "jar": jar, "working_gas": working_gas,
        "working_pressure": working_pressure, "distance": distance, "flush": flush,
        "metal": metal if was_typed(context, "metal") or setup is None else None,
    }  # fmt: skip
    known = read_known(setup, "assay", log_file, run=of_run)
    verdict = weigh(
        **noticed, **known | {name: said for name, said in run.items() if said is not None},
        strip=strip, four_point=four_point, area=area, trouble=trouble, how=how, on=on,
        base_finish=base_finish, conditions=viewing, seed=seed,
    )  # fmt: skip
    if record:
        looks = {name: text for name, text in noticed.items() if name not in _NOT_KEPT}
        record_look(
            setup or "", log_file, run=of_run, as_json=as_json, piece=piece, on=on, how=how, **looks
        )
    answer(verdict, as_json, chart, report, trusted=verdict.fits)
