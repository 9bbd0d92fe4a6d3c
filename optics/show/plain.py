"""Answers as plain data for JSON: the keys are a contract, the numbers are unrounded."""

from __future__ import annotations

from typing import Any

import numpy as np

from ..colour.colour import Colour
from ..gauge.result import Candidate, Estimate
from ..inference.reading import Reading

Plain = dict[str, Any]

MAX_LISTED = 300_000  # stacks in one JSON object: half a minute, some hundred megabytes


def appearance_plain(appearance: Colour, position: tuple[int, ...] = ()) -> Plain:
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
