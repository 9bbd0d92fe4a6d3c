"""Answers as text for a terminal: one line first, then the figures, always in words too."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, TextIO

import numpy as np

from ..colour.colour import Appearance
from ..errors import point_for_comma
from ..films.materials.catalogue import MaterialEntry, load_file
from ..gauge.result import Estimate
from ..look.look import Look, swept_nm
from .plain import data_sets

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table
    from rich.text import Text

_MOST_ROWS = 40
_INDEX_LINES_NM = (450.0, 550.0, 650.0)


def console(stream: TextIO | None = None) -> Console:
    """A console that colours only where the terminal can, and never wraps a pipe's lines."""
    from rich.console import Console

    stream = stream or sys.stdout
    width = None if stream.isatty() else 100
    # Names of files and stacks may hold brackets and colons, which are not markup.
    return Console(
        file=stream, highlight=False, markup=False, emoji=False,
        soft_wrap=not stream.isatty(), width=width,
    )  # fmt: skip


def swatch(hex_value: str, name: str, out: Console) -> Text:
    """Hex and name of a colour, behind a patch of it where the terminal shows colours."""
    from rich.text import Text

    words = f"{hex_value}  {name}"
    if out.color_system is None:
        return Text(words)
    return Text.assemble(("      ", f"on {hex_value}"), " ", words)


def show_look(look: Look, out: Console) -> None:
    """Print what a stack looks like, or the ramp of a sweep."""
    if look.stack.sweep_shape:
        _show_sweep(look, out)
        return
    out.print(f"{look.text}: {look.reflected.name}, {look.reflected.srgb_hex}")
    out.print()
    table = plain_table("seen", "colour", "Y %", "L*", "a*", "b*")
    sides: list[tuple[str, Appearance]] = [(f"reflected, {look.side}", look.reflected)]
    if look.transmitted is not None:
        sides.append(("through", look.transmitted))
    for label, seen in sides:
        lab = (f"{value:.1f}" for value in seen.lab)
        patch = swatch(str(seen.srgb_hex), str(seen.name), out)
        table.add_row(label, patch, f"{seen.xyz[1]:.1f}", *lab)
    out.print(table)
    if look.transmitted is None:
        out.print("Nothing is seen through: the substrate is opaque.")
    outside = [label for label, seen in sides if not seen.in_gamut]
    if outside:
        out.print(f"More vivid than a screen can show: {', '.join(outside)}.")
    out.print(_conditions(look))


def _show_sweep(look: Look, out: Console) -> None:
    layers = swept_nm(look.stack)
    names = np.asarray(look.reflected.name)
    out.print(f"{look.text}: {names.size} points, from {names.flat[0]} to {names.flat[-1]}")
    if names.size == 2 and (hint := point_for_comma(look.text)):
        out.print(f"Two thicknesses{hint}.")
    out.print()
    table = plain_table(
        *(f"{layer.medium.label} nm" for layer, _ in layers), "reflected", "through"
    )
    hexes = np.asarray(look.reflected.srgb_hex)
    for position in _chosen(look.stack.sweep_shape):
        nm = (f"{points[i]:g}" for (_, points), i in zip(layers, position, strict=True))
        through: Text | str = "opaque"
        if look.transmitted is not None:
            seen = look.transmitted
            through = swatch(
                str(np.asarray(seen.srgb_hex)[position]), str(np.asarray(seen.name)[position]), out
            )
        table.add_row(*nm, swatch(str(hexes[position]), str(names[position]), out), through)
    out.print(table)
    if names.size > _MOST_ROWS:
        out.print(f"Evenly chosen rows of {names.size}; --json gives all.")
    out.print(_conditions(look))


def _chosen(shape: tuple[int, ...]) -> Iterable[tuple[int, ...]]:
    total = int(np.prod(shape))
    picked = np.unique(np.linspace(0, total - 1, min(total, _MOST_ROWS)).astype(int))
    return zip(*(axis.tolist() for axis in np.unravel_index(picked, shape)), strict=True)


def _conditions(look: Look) -> str:
    viewing = look.viewing
    return f"Light {viewing.light}, {viewing.observer}° observer, {tilt(look.angle_deg)}."


def tilt(angle_deg: float) -> str:
    """An angle of incidence as people say it."""
    return f"{angle_deg:g}° from square on" if angle_deg else "square on"


def show_estimate(estimate: Estimate, out: Console) -> None:
    """Print a thickness with its candidates."""
    out.print(_verdict(estimate))
    out.print()
    table = plain_table(
        "thickness", "90 % within", "probability", "order", "film", "colour square on"
    )
    for one in estimate.candidates:
        table.add_row(
            f"{one.thickness_nm:.0f} nm",
            span(one.interval90_nm),
            percent(one.probability),
            ordinal(one.order),
            one.film,
            swatch(one.srgb_hex, one.name, out),
        )
    out.print(table)
    low, high = estimate.interval90_nm
    if len(estimate.candidates) > 1:
        out.print(f"All candidates together: 90 % within {low:.0f} to {high:.0f} nm.")
    else:
        out.print(
            f"Index times thickness: {estimate.optical_thickness_nm:.0f} nm, 90 % within "
            f"{span(estimate.optical_interval90_nm)}."
        )
    if len(estimate.films) > 1:
        shares = ", ".join(
            f"{name} {percent(share)}"
            for name, share in sorted(estimate.films.items(), key=lambda item: -item[1])
        )
        out.print(f"Film: {shares}.")
    for reading in estimate.readings:
        read = reading.colour
        if read is not None and str(read.srgb_hex)[1:] not in reading.text.casefold():
            patch = swatch(str(read.srgb_hex), str(read.name), out)
            out.print(f"Read from {reading.text}, as {reading.how}: ", patch)
    for warning in estimate.warnings:
        out.print(f"Mind: {warning}.")
    out.print(f"Next: {estimate.next_check}.")
    out.print(f"Optical data: {', '.join(data_sets(estimate))}.")


def _verdict(estimate: Estimate) -> str:
    seen = " and ".join(f"'{reading.text}'" for reading in estimate.readings)
    if not estimate.fits:
        return (
            f"Nothing fits: no film in question shows {seen} (only {100 * estimate.fit_p:.2g} % of "
            f"simulated readings are as unusual). The nearest, not to be trusted:"
        )
    best, *others = estimate.candidates
    sentence = (
        f"About {best.thickness_nm:.0f} nm ({ordinal(best.order)} order, "
        f"{percent(best.probability)})"
    )
    if others:
        rest = " or ".join(
            f"{one.thickness_nm:.0f} nm ({percent(one.probability)})" for one in others
        )
        sentence += f"; it could also be {rest}"
    return f"{sentence}: that is what {seen} is compatible with."


def show_materials(entries: Sequence[MaterialEntry], out: Console, detailed: bool) -> None:
    """Print the data sets there are; in detail, those of one material with their sources."""
    if not detailed:
        _show_index(entries, out)
        return
    first = entries[0]
    count = "1 data set" if len(entries) == 1 else f"{len(entries)} data sets"
    out.print(f"{first.name}: {first.formula_name}, {count}")
    for entry in entries:
        mark = (
            "default"
            if entry.default
            else f"default for {entry.phase}"
            if (entry.phase_default and entry.phase)
            else "alternative"
        )
        out.print()
        out.print(f"{entry.label}  ({mark}; {entry.phase or entry.kind}; {entry.confidence})")
        out.print(f"  {_index_line(entry)}")
        low, high = entry.range_nm
        out.print(f"  range {low:g} to {high:g} nm" + _extension(entry))
        doi = f", doi:{entry.doi}" if entry.doi else ""
        out.print(f"  {entry.source}{doi}")
        page = entry.database_page or "not from the open database"
        out.print(f"  {page}; licence {entry.licence}")


def _show_index(entries: Sequence[MaterialEntry], out: Console) -> None:
    names = list(dict.fromkeys(entry.name for entry in entries))
    out.print(f"{len(names)} materials, {len(entries)} data sets")
    out.print()
    table = plain_table("material", "kind", "what it is", "phases", "sets", "default", "confidence")
    for name in names:
        own = [entry for entry in entries if entry.name == name]
        chosen = next((entry for entry in own if entry.default), own[0])
        phases = dict.fromkeys(entry.phase for entry in own if entry.phase)
        table.add_row(
            name, chosen.kind, chosen.formula_name, ", ".join(phases), str(len(own)),
            chosen.variant, chosen.confidence,
        )  # fmt: skip
    out.print(table)


def _index_line(entry: MaterialEntry) -> str:
    material = load_file(entry.file)
    low, high = material.range_nm
    inside = [nm for nm in _INDEX_LINES_NM if low <= nm <= high]
    if not inside:
        return "no data between 450 and 650 nm"
    values = zip(inside, material.nk(inside), strict=True)
    return "   ".join(f"{nm:g} nm: {z.real:.3f} + {z.imag:.3g}i" for nm, z in values)


def _extension(entry: MaterialEntry) -> str:
    if not entry.extension:
        return ""
    low, high = entry.measured_range_nm
    return f"; published {low:g} to {high:g} nm, {entry.extension}"


def plain_table(*columns: str) -> Table:
    """An empty table with a rule under its heads; on a narrow terminal, one line for each cell."""
    from rich.box import SIMPLE_HEAD

    from .old_narrow import FittingTable

    table = FittingTable(box=SIMPLE_HEAD, pad_edge=False)
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def percent(share: float) -> str:
    """A probability in words that never claims certainty."""
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{100.0 * share:.0f} %"


def span(interval: tuple[float, float]) -> str:
    """An interval of thickness in words."""
    return f"{interval[0]:.0f} to {interval[1]:.0f} nm"


def ordinal(order: int) -> str:
    """1st, 2nd, 3rd ..."""
    return {1: "1st", 2: "2nd", 3: "3rd"}.get(order, f"{order}th")
