"""Answers about heat and oxide as documents."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial

from ..inference.hypotheses import list_film_models
from ..oxidation.metals import anodic_cautions, find_metal
from ..report.document import Block, Document, Figure, Line, Note, Swatch, Table, present
from ..report.format import format_count, format_interval, format_ordinal, format_percent
from ..report.provenance import GROWTH, labels_of_pairs
from ..units import format_duration
from .alike import Batch, words_of_batch
from .heat_strip import heat_strip
from .parameters import parameter_row
from .plots import (
    chart_learned,
    chart_overview,
    chart_plate,
    chart_recipes,
    chart_tint,
    chart_volts,
)
from .result import (
    BathCalibration,
    By,
    Calibration,
    HeatStrip,
    PlateHold,
    PlatePoint,
    Recipe,
    Recipes,
    Residual,
    Tint,
    VoltChart,
)
from .targets import describe_nearest
from .weld import WeldTint

_ELSEWHERE = {"easy": "alike", "fair": "near it", "touchy": "another"}
"""The colour of a piece whose heat was a little off."""


@present.register
def _tint(tint: Tint) -> Document:
    low, high = tint.interval90_nm
    colour = "" if tint.name is None else f", {tint.name}"
    blocks: list[Block] = []
    if tint.srgb_hex is not None and tint.name is not None:
        chances = ", ".join(f"{s.name} {100.0 * s.probability:.0f} %" for s in tint.names)
        colour_line = "Colour of the middle thickness: ", Swatch(tint.srgb_hex, tint.name)
        blocks += [colour_line, f"It may turn out: {chances}."]
    if tint.batch is not None:
        blocks += [words_of_batch(tint.batch), _batch_table(tint.batch)]
    blocks.append(
        f"Metal used up: {tint.metal_used_nm:.0f} nm; oxygen taken on: "
        f"{tint.mass_gain_ug_cm2:.1f} µg/cm². Oxide to metal by volume {tint.volume_ratio:.2f}: "
        f"{tint.stress}."
    )
    if tint.metal_left_nm is not None:
        blocks.append(f"Metal left of the film: {tint.metal_left_nm:.0f} nm.")
    if tint.plate:
        blocks.append(_place_table(tint.plate))
    return Document(
        headline=(
            f"{tint.metal_name}, {tint.treatment}: about {tint.thickness_nm:.0f} nm of "
            f"{tint.oxide}{colour} (90 % of pieces within {low:.0f} to {high:.0f} nm)"
            f"{_ends(tint.plate)}"
        ),
        blocks=[
            *blocks,
            Note(f"Law: {tint.law}."),
            Note(f"Source ({tint.confidence}): {tint.source}."),
            *_notes(tint.note, tint.warnings),
        ],
        cautions=tint.cautions,
        question="What does this heat do?",
        figures=[_picture(tint)],
        confidence=[GROWTH, f"Growth law, {tint.confidence}: {tint.source}."],
        sources=tint.data_sets,
    )


def _ends(plate: Sequence[PlatePoint]) -> str:
    """The colours at both ends of a plate."""
    if not plate or plate[0].name is None:
        return ""
    first, last = (f"{one.name} at {one.temperature_C:.0f} °C" for one in (plate[0], plate[-1]))
    return f"; along the piece from {first} to {last}"


def _picture(tint: Tint) -> Figure:
    """A plate as the strip it becomes, any other piece by what its thickness may be."""
    if tint.plate and tint.palette is not None:
        return Figure(lambda: chart_plate(tint), "Typical colours along the piece, and thickness.")
    return Figure(
        lambda: chart_tint(tint), "How thick pieces so treated come out, in their colours."
    )


@present.register
def show_recipes(found: Recipes) -> Document:
    """Every heat, bath or pass that gives the colour, the surest first."""
    blocks: list[Block] = []
    if found.recipes:
        blocks += [_recipe_table(found), f"Counted as {found.want}: {found.counts_as}."]
    if found.parts is not None and found.recipes:
        blocks.append(
            f"Of {found.parts}: where the number that come out in the colour lies in 90 % of "
            f"batches; behind it, the chance of each further part once the first has it."
        )
    source = Note(f"Source ({found.confidence}): {found.source}.")
    blocks += [source, *_notes(found.note, found.warnings)]
    figures = []
    if found.kiln is not None:
        text = "Typical colours over time and temperature; rings mark the heats found."
        figures.append(Figure(lambda: chart_recipes(found), text))
    return Document(
        headline=_recipes_headline(found),
        blocks=blocks,
        cautions=found.cautions,
        question="Which heat gives this colour?",
        figures=figures,
        confidence=[
            "The chance is the share of pieces that come out in this colour, given the law's own "
            "uncertainty, the kiln's and the scatter from heat to heat.",
            f"Growth law, {found.confidence}: {found.source}.",
        ],
        sources=_oxide_data(found.metal),
    )


_SETTINGS: dict[By, list[str]] = {
    "hold": ["temperature", "time"],
    "flame": ["metal at", "one pass", "passes"],
    "ramp": ["peak", "longer at it"],
    "volts": ["volts"],
}


def _recipe_table(found: Recipes) -> Table:
    """One row for each way, with what only stated colours and batches have."""
    off = "±1 V" if found.by == "volts" else "±10 °C, ±10 % time"
    of_parts = [f"of {found.parts}"] if found.parts is not None else []
    in_numbers = ["ΔE"] if _is_in_numbers(found) else []
    rows: list[list[Line]] = [
        [
            *_setting(one, found.by),
            f"{one.thickness_nm:.0f} nm",
            "scale" if one.order is None else format_ordinal(one.order),
            Swatch(one.srgb_hex, one.name),
            *([f"{one.delta_e:.0f}"] if in_numbers else []),
            f"{100.0 * one.chance:.0f} %",
            *([_parts_words(one)] if of_parts else []),
            _sensitivity(one),
        ]
        for one in found.recipes
    ]
    columns = [
        *_SETTINGS[found.by], "oxide", "order", "colour", *in_numbers, "chance", *of_parts, off
    ]  # fmt: skip
    return Table(columns, rows, optional=[off, "order"])


def _is_in_numbers(found: Recipes) -> bool:
    """Whether the colour wanted was stated in numbers or read off a sample."""
    return "ΔE" in found.counts_as


def _batch_table(batch: Batch) -> Table:
    """How many parts of 90 % of batches take each colour, and what one part says of the others."""
    rows: list[list[Line]] = [
        [one.name, f"{one.count90[0]} to {one.count90[1]}", f"{100.0 * one.next_alike:.0f} %"]
        for one in batch.names
    ]
    return Table(["colour", f"of {batch.parts}, in 90 %", "others, once one has it"], rows)


def _parts_words(one: Recipe) -> str:
    if one.alike is None:
        return "-"
    low, high = one.alike.count90
    return f"{low} to {high}; {100.0 * one.alike.next_alike:.0f} %"


def _recipes_headline(found: Recipes) -> str:
    if not found.attainable:
        return (
            f"{found.oxide} on {found.metal_name} does not show {found.want!r}; the nearest is "
            f"{describe_nearest(found.want, found.nearest)}"
        )
    if not found.recipes:
        return f"no heat in reach gives {found.want!r} on {found.metal_name}"
    best = found.recipes[0]
    order = "as scale" if best.order is None else f"{format_ordinal(best.order)} order"
    return (
        f"{found.want} on {found.metal_name}: {_setting_words(best, found.by)} "
        f"({best.thickness_nm:.0f} nm of {found.oxide}, {order}); "
        f"{100.0 * best.chance:.0f} % of pieces come out this colour"
    )


def _setting(one: Recipe, by: By) -> list[str]:
    if by == "volts":
        return [f"{one.volts:.1f} V"]
    time = format_duration(60.0 * (one.time_min or 0.0))
    if by == "ramp":
        time = time if one.time_min else "-"
    return [f"{one.temperature_C:.0f} °C", time, *([str(one.passes)] if by == "flame" else [])]


def _setting_words(one: Recipe, by: By) -> str:
    degrees, *rest = _setting(one, by)
    if by == "flame":
        times = "one pass" if one.passes == 1 else f"{one.passes} passes"
        return f"{times} of {rest[0]}, the metal at {degrees}"
    if by == "ramp":
        more = f", held there {rest[0]} longer" if one.time_min else ""
        return f"this heat with its peak at {degrees}{more}"
    return " for ".join([degrees, *rest])


def _sensitivity(one: Recipe) -> str:
    if one.spread is None:
        return "-"
    each = one.spread.ten_degrees_de, one.spread.ten_percent_de, one.spread.one_volt_de
    shifts = ", ".join(f"{shift:.0f}" for shift in each if shift is not None)
    return f"{_ELSEWHERE[one.spread.rating]} ({shifts} ΔE)"


@present.register
def _plate(held: PlateHold) -> Document:
    return Document(
        headline=(
            f"{held.want} along {held.metal_name}: one end at {held.first_C:.0f} °C, the other at "
            f"{held.last_C:.0f} °C, for {format_duration(60.0 * held.time_min)}"
        ),
        blocks=[_place_table(held.plate), *_notes(held.note, held.warnings)],
        cautions=held.cautions,
        question="How is a plate held to run from colour to colour?",
        confidence=[GROWTH],
        sources=_oxide_data(held.metal),
    )


def _place_table(points: Sequence[PlatePoint]) -> Table:
    rows: list[list[Line]] = []
    for one in points:
        low, high = one.interval90_nm
        place = f"{100.0 * one.position:.0f} %"
        if one.position_mm is not None:
            place = f"{one.position_mm:.0f} mm"
        colour: Line = "-" if one.srgb_hex is None else Swatch(one.srgb_hex, one.name or "")
        oxide, within = f"{one.thickness_nm:.0f} nm", f"{low:.0f} to {high:.0f} nm"
        rows.append([place, f"{one.temperature_C:.0f} °C", oxide, within, colour])
    return Table(["place", "temperature", "oxide", "90 % within", "colour"], rows)


@present.register
def _strip(strip: HeatStrip) -> Document:
    rows: list[list[Line]] = [
        [
            f"{temperature:.0f}",
            *(
                Swatch(str(hex_value), f"{name} {nm:.0f}", with_hex=False)
                for hex_value, name, nm in zip(hexes, names, film, strict=True)
            ),
        ]
        for temperature, hexes, names, film in zip(
            strip.temperature_C, strip.srgb_hex, strip.name, strip.thickness_nm, strict=True
        )
    ]
    times = [format_duration(60.0 * minutes) for minutes in strip.time_min]
    caption = "Typical colours over time and temperature, with lines of equal oxide."
    return Document(
        headline=(
            f"{strip.metal_name}: typical colours of {strip.oxide} over temperature and time"
        ),
        blocks=[
            Table(["°C", *times], rows),
            "Names are followed by nanometres of oxide.",
            Note(f"Source: {strip.source}."),
            *_notes(strip.note, strip.warnings),
        ],
        cautions=strip.cautions,
        question="Which colours does this metal take?",
        figures=[Figure(lambda: chart_overview(strip), caption)],
        confidence=[
            "Colours are those of the law's middle; a single piece scatters around it: ask for one "
            "heat to see how far."
        ],
        sources=_oxide_data(strip.metal),
    )


def _pieces_table(learned: Calibration) -> Table:
    pieces: list[list[Line]] = [
        [
            one.id, one.heat, _outcome(one), f"{one.thickness_nm:.0f} nm",
            f"{one.predicted_nm:.0f} nm",
            f"{one.interval90_nm[0]:.0f} to {one.interval90_nm[1]:.0f} nm", f"{one.fit_p:.2f}",
        ]
        for one in learned.residuals
    ]  # fmt: skip
    head = ["piece", "heat", "came out", "read as", "law says", "90 % within", "p"]
    return Table(head, pieces, optional=["p", "came out"])


def _outcome(piece: Residual) -> Line:
    """What came out, beside its colour; a hex value is said once."""
    if piece.srgb_hex is None:
        return piece.outcome
    typed = piece.outcome.lstrip("#").casefold() == piece.srgb_hex.lstrip("#")
    return Swatch(piece.srgb_hex, "" if typed else piece.outcome, with_hex=typed)


def _own_colours(learned: Calibration) -> list[Figure]:
    """All colours of the kiln that was learnt."""
    fitted = learned.fitted
    if not fitted.metal.colour:
        return []
    strip = partial(heat_strip, fitted.metal.key, kiln=fitted)
    caption = "Colours of this kiln over time and temperature."
    return [Figure(lambda: chart_overview(strip()), caption)]


@present.register
def _calibration(learned: Calibration) -> Document:
    kiln = "" if learned.kiln.lower() in ("", "kiln") else f" ({learned.kiln})"
    several = len(learned.fitted.metal.regimes) > 1
    law = [list(parameter_row(item, several)) for item in learned.parameters]
    caption = "Test pieces against the fitted law, with the band that holds 90 % of such pieces."
    return Document(
        headline=(
            f"{format_count(learned.pieces, 'test piece')} of {learned.metal_name}: "
            f"this kiln{kiln} is {learned.pace:.2g} times as fast as the shipped law; a prediction "
            f"for {learned.width_heat} is {100.0 * learned.width_ratio:.0f} % as wide as before"
        ),
        blocks=[
            _pieces_table(learned),
            Table(
                ["the law", "fitted", "90 % within", "shipped", "90 % before"],
                law,
                optional=["90 % before"],
            ),
            f"Next test piece: {learned.next_piece.words}.",
            Note(f"Law: {learned.law}; before the pieces: {learned.source}."),
            *_remarks(learned.warnings),
        ],
        cautions=learned.cautions,
        question="What do our own heats say?",
        figures=[
            Figure(lambda: chart_learned(learned), caption),
            *_own_colours(learned),
        ],
        confidence=[
            GROWTH,
            "p is the share of simulated pieces at least as unusual; below 1 % the law does not "
            "fit.",
        ],
        sources=_oxide_data(learned.metal),
    )


@present.register
def _bath(learned: BathCalibration) -> Document:
    following = learned.next_piece
    strips = [
        [
            one.id, f"{one.volts:g} V", one.outcome, f"{one.thickness_nm:.0f} nm",
            f"{one.predicted_nm:.0f} nm", format_interval(one.interval90_nm), f"{one.fit_p:.2f}",
        ]
        for one in learned.residuals
    ]  # fmt: skip
    head = ["strip", "volts", "came out", "read as", "law says", "90 % within", "p"]
    return Document(
        headline=(
            f"{learned.pieces} strips of {learned.metal_name}: this bath grows {learned.law}; a "
            f"prediction for {learned.width_V:g} V is {100.0 * learned.width_ratio:.0f} % as wide "
            f"as before"
        ),
        blocks=[
            Table(head, strips, optional=["p", "came out"]),
            f"Next strip: {following.volts:g} V: the doubt of a predicted thickness, "
            f"{100.0 * following.spread_now:.1f} % on average over the range, would come down to "
            f"{100.0 * following.spread_then:.1f} %.",
            Note(f"Before the strips: {learned.shipped} ({learned.source})."),
            *_remarks(learned.warnings),
        ],
        cautions=anodic_cautions(),
        question="What do our own volts say?",
        confidence=[
            "p is the share of simulated strips at least as unusual; below 1 % the constant does "
            "not fit.",
        ],
        sources=_oxide_data(learned.metal),
    )


@present.register
def _volt_chart(chart: VoltChart) -> Document:
    rows: list[list[Line]] = [
        [f"{volts:g} V", f"{film:.0f} nm", format_interval((low, high)), Swatch(str(hexed), name)]
        for volts, film, (low, high), hexed, name in zip(
            chart.volts, chart.thickness_nm, chart.interval90_nm.tolist(), chart.srgb_hex,
            chart.name.tolist(), strict=True,
        )
    ]  # fmt: skip
    caption = "Typical colours over the volts, with the thickness and where 90 % of it lies."
    return Document(
        headline=(
            f"{chart.metal_name}, anodised: typical colours of {chart.oxide} from "
            f"{chart.volts[0]:g} to {chart.volts[-1]:g} V"
        ),
        blocks=[
            Table(["volts", "oxide", "90 % within", "colour"], rows, optional=["90 % within"]),
            Note(f"Law: {chart.law}."),
            Note(f"Source: {chart.source}."),
            *_remarks(chart.warnings),
        ],
        cautions=chart.cautions,
        question="Which volts give which colour?",
        figures=[Figure(lambda: chart_volts(chart), caption)],
        confidence=["Colours are those of the middle; a bath of its own may be off by its spread."],
        sources=_oxide_data(chart.metal),
    )


@present.register
def _weld(tint: WeldTint) -> Document:
    """What each criterion says of the colour, and who decides."""
    rows: list[list[Line]] = [
        [
            one.criterion, one.verdict, format_percent(one.keep), format_percent(one.compare),
            format_percent(one.remove),
        ]
        for one in tint.criteria
    ]  # fmt: skip
    names = ", ".join(f"{name} {format_percent(share)}" for name, share in tint.names.items())
    oxide = "No oxide that heat grows on it shows this colour."
    if tint.thickness_nm is not None and tint.interval90_nm is not None:
        oxide = (
            f"Such an oxide is about {tint.thickness_nm:.0f} nm thick (90 % within "
            f"{format_interval(tint.interval90_nm)})."
        )
    return Document(
        headline="; ".join(f"{one.criterion}: {one.verdict}" for one in tint.criteria),
        blocks=[
            Table(["criterion", "verdict", "may stay", "compare", "remove"], rows),
            *(f"{one.criterion.capitalize()} ({one.where}): {one.says}." for one in tint.criteria),
            f"The colour is called {names}. {oxide}",
            f"Guidance only: {tint.advice}.",
            *(Note(f"{one.criterion.capitalize()}: {one.source}.") for one in tint.criteria),
        ],
        cautions=tint.cautions,
        question="Keep or remove the tint of a weld?",
        confidence=[
            "Which of our names a criterion's words mean is our reading of it; the names of a "
            "colour that was said in words are shared out as people use the word.",
        ],
        sources=_oxide_data(tint.metal),
    )


def _notes(note: str, warnings: Iterable[str]) -> list[Block]:
    """What to know of the metal, if there is anything, and what to know of this answer."""
    return [*([Note(note)] if note else []), *_remarks(warnings)]


def _remarks(warnings: Iterable[str]) -> list[Block]:
    return [f"Note: {warning.rstrip('.')}." for warning in warnings]


def _oxide_data(metal: str) -> tuple[str, ...]:
    held = find_metal(metal)
    return labels_of_pairs(list_film_models(held.films, held.on)) if held.colour else ()
