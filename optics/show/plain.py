"""Answers as plain data for JSON: the keys are a contract, the numbers are unrounded."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from ..colour.colour import Appearance
from ..errors import LimitError
from ..films.materials.catalogue import MaterialEntry
from ..films.written import format_stack
from ..gauge.result import Candidate, Estimate
from ..inference.reading import Reading
from ..look.look import Look, at_point, swept_nm

Plain = dict[str, Any]

MAX_LISTED = 300_000  # stacks in one JSON object: half a minute, some hundred megabytes


def appearance_plain(appearance: Appearance, position: tuple[int, ...] = ()) -> Plain:
    """One colour of an appearance."""
    xyz = appearance.xyz[position]
    return {
        "Y": float(xyz[1]),
        "xyz": xyz.tolist(),
        "lab": appearance.lab[position].tolist(),
        "srgb_hex": str(np.asarray(appearance.srgb_hex)[position]),
        "in_gamut": bool(np.asarray(appearance.in_gamut)[position]),
        "name": str(np.asarray(appearance.name)[position]),
    }


def check_listed(look: Look) -> None:
    """Refuse a sweep with more stacks than one JSON object should list.

    Raises
    ------
    LimitError
        If there are more than 300,000.
    """
    stacks = math.prod(look.stack.sweep_shape)
    if stacks > MAX_LISTED:
        raise LimitError(
            f"{stacks:,} stacks are too many to list as JSON; at most {MAX_LISTED:,} are listed, "
            f"so widen the step of the sweep"
        )


def look_plain(look: Look) -> Plain:
    """What a stack looks like; a sweep has its points under ``steps``."""
    check_listed(look)
    head = {
        "stack": look.text,
        "angle_deg": look.angle_deg,
        "from": look.side,
        "light": look.viewing.light,
        "observer": look.viewing.observer,
    }
    shape = look.stack.sweep_shape
    if not shape:
        return head | _one_look(look, ())
    swept = swept_nm(look.stack)
    steps = []
    for position in np.ndindex(shape):
        thickness = [float(nm[i]) for (_, nm), i in zip(swept, position, strict=True)]
        step = head | {
            "stack": format_stack(at_point(look.stack, position)),
            "thickness_nm": thickness[0] if len(thickness) == 1 else thickness,
        }
        steps.append(step | _one_look(look, position))
    return head | {"swept": [layer.medium.label for layer, _ in swept], "steps": steps}


def _one_look(look: Look, position: tuple[int, ...]) -> Plain:
    seen: Plain = {
        "reflected": appearance_plain(look.reflected, position),
        "transmitted": None
        if look.transmitted is None
        else appearance_plain(look.transmitted, position),
    }
    if look.response is not None:
        seen["wavelength_nm"] = look.response.wavelength_nm.tolist()
        seen["R"] = look.response.R[position].tolist()
        seen["T"] = look.response.T[position].tolist()
    return seen


def candidate_plain(candidate: Candidate) -> Plain:
    """One candidate of an estimate."""
    return {
        "thickness_nm": candidate.thickness_nm,
        "interval90_nm": list(candidate.interval90_nm),
        "probability": candidate.probability,
        "order": candidate.order,
        "film": candidate.film,
        "srgb_hex": candidate.srgb_hex,
        "name": candidate.name,
    }


def estimate_plain(estimate: Estimate) -> Plain:
    """What is held about a thickness."""
    return {
        "thickness_nm": estimate.thickness_nm,
        "interval90_nm": list(estimate.interval90_nm),
        "region90_nm": [list(part) for part in estimate.region90_nm],
        "optical_thickness_nm": estimate.optical_thickness_nm,
        "optical_interval90_nm": list(estimate.optical_interval90_nm),
        "candidates": [candidate_plain(candidate) for candidate in estimate.candidates],
        "films": estimate.films,
        "fits": estimate.fits,
        "fit_p": estimate.fit_p,
        "next_check": estimate.next_check,
        "checks": [
            {"look": check.words, "expected_width_nm": check.width_nm} for check in estimate.checks
        ],
        "seen": [_reading_plain(reading) for reading in estimate.readings],
        "before": [_reading_plain(reading) for reading in estimate.earlier],
        "warnings": list(estimate.warnings),
        "between_nm": list(estimate.between_nm),
        "light": estimate.viewing.light,
        "observer": estimate.viewing.observer,
        "data_sets": data_sets(estimate),
        "seed": estimate.seed,
    }


def _reading_plain(reading: Reading) -> Plain:
    read = reading.colour
    return {
        "text": reading.text,
        "how": reading.how,
        "view": reading.view,
        "srgb_hex": None if read is None else str(read.srgb_hex),
        "lab": None if read is None else read.lab.tolist(),
        "doubts": vars(reading.doubts),
    }


def data_sets(estimate: Estimate) -> list[str]:
    """The optical data an estimate rests on, films before substrates."""
    films = [pair.film.label for pair in estimate.pairs]
    substrates = [pair.substrate.label for pair in estimate.pairs]
    return list(dict.fromkeys(films + substrates))


def material_plain(entry: MaterialEntry) -> Plain:
    """One data set of the index; one averaged over directions has a page for each."""
    pages = [page.strip() for page in (entry.database_page or "").split(";") if page]
    return {
        "name": entry.name,
        "variant": entry.variant,
        "phase": entry.phase,
        "default": entry.default,
        "kind": entry.kind,
        "formula_name": entry.formula_name,
        "source": entry.source,
        "doi": entry.doi,
        "database_page": pages[0] if pages else None,
        "database_pages": pages,
        "licence": entry.licence,
        "range_nm": list(entry.range_nm),
        "measured_range_nm": list(entry.measured_range_nm),
        "extension": entry.extension,
        "confidence": entry.confidence,
    }
