"""``oxhue gauge``: how thick is it, from what I saw?"""

from __future__ import annotations

from typing import Annotated

import typer

from .options import EXIT_NO_TRUST, AsJson, Chart, Light, Observer, answer, viewing_of


def gauge(
    film: Annotated[
        str, typer.Option("--film", help="What the film may be; several parted by commas.")
    ],
    on: Annotated[str, typer.Option("--on", help="What it lies on.")],
    seen: Annotated[
        list[str],
        typer.Option(
            "--seen",
            metavar="COLOUR",
            help="A word, #hex or L,a,b; 'angle=60' after it if tilted. Repeat for more looks.",
        ),
    ],
    how: Annotated[
        str | None,
        typer.Option("--how", help="Kind of reading: word, photo, card or instrument."),
    ] = None,
    between: Annotated[
        str, typer.Option("--between", metavar="RANGE", help="Thickness known to lie in.")
    ] = "0..250nm",
    angle: Annotated[
        str | None,
        typer.Option("--angle", metavar="DEG", help="Angle of every look that states none."),
    ] = None,
    index_spread: Annotated[
        float | None,
        typer.Option("--index-spread", help="Relative doubt of the film's index; default 0.025."),
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Seed of the simulations.")] = 1,
    light: Light = "D65",
    observer: Observer = 2,
    chart: Chart = None,
    as_json: AsJson = False,
) -> None:
    """Thickness of a film from its colour, with every candidate and its probability.

    Example: oxhue gauge --film TiO2 --on Ti --seen purple
    """
    from ..optics.jobs.gauge import gauge as gauge_job
    from ..optics.jobs.reading import parse_reading
    from ..optics.quantities import parse_range
    from ..optics.show.charts import chart_estimate, check_chart_name
    from ..optics.show.plain import estimate_plain
    from ..optics.show.text import show_estimate

    if chart is not None:
        check_chart_name(chart)
    estimate = gauge_job(
        [name.strip() for name in film.split(",")],
        on,
        [parse_reading(text, how, angle, index_spread) for text in seen],
        parse_range(between, "length_nm", "--between"),
        viewing_of(light, observer),
        seed,
    )
    answer(
        lambda: estimate_plain(estimate),
        lambda out: show_estimate(estimate, out),
        as_json,
        chart,
        lambda: chart_estimate(estimate),
    )
    if not estimate.fits:
        raise typer.Exit(EXIT_NO_TRUST)
