"""``oxhue coupons``: what do my own heats say?"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from .options import (
    AsJson,
    Chart,
    File,
    Light,
    Observer,
    Report,
    Seed,
    Text,
    answer,
    option,
    parse_viewing,
)
from .streams import say

PANEL = "Data, and your own kiln", 2


def coupons(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="CSV of heats and what came out.")],
    save: Annotated[
        File, option("--save", "FILE", "Write the kiln or bath as JSON for 'tint --coupons'.")
    ] = None,
    kiln: Annotated[
        Text, option("--kiln", "NAME", "Which kiln of the file; the first by default.")
    ] = None,
    light: Light = "D65",
    observer: Observer = 2,
    seed: Seed = 1,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """The law of your own kiln or anodising bath from a few test pieces, and which to run next.

    The file has a head, metal,temperature_C,time_min and one of word, hex, Lab or thickness_nm;
    sd, how, id, kiln and profile (in place of temperature and time) may be added. For a bath it is
    metal,volts and what came out.

    Example: oxhue coupons docs/examples/pieces.csv
    """
    from ..optics.files.atomic import check_target, claim_target, write_atomically
    from ..optics.tint.bath import Bath, format_bath
    from ..optics.tint.calibrate import coupons as learn_kiln
    from ..optics.tint.kiln import format_kiln

    if save is not None:
        claim_target(save)
    learned = learn_kiln(file, kiln=kiln, conditions=parse_viewing(light, observer), seed=seed)
    for target in (chart, None if report is None else report.path):
        if target is not None:
            check_target(target)  # now that it is known what was read
    if save is not None:
        fitted = learned.fitted
        of_bath = isinstance(fitted, Bath)
        text = format_bath(fitted) if isinstance(fitted, Bath) else format_kiln(fitted)
        write_atomically(save, lambda stream: stream.write(text.encode("utf-8")))
        say(f"{'bath' if of_bath else 'kiln'} written: {save}")
    answer(learned, as_json, chart, report, trusted=learned.fits)
