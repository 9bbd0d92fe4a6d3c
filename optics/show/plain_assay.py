"""An assay as plain data for JSON: the keys are a contract, the numbers are unrounded."""

from __future__ import annotations

import math
from typing import Any

from ..assay.expectation import Expectation, ExpectedLook
from ..assay.verdict import Hypothesis, Verdict
from .plain import appearance_plain

Plain = dict[str, Any]


def verdict_plain(verdict: Verdict) -> Plain:
    """What a film is held to be."""
    return {
        "verdict": verdict.verdict,
        "probabilities": verdict.probabilities,
        "thickness_nm": verdict.thickness_nm,
        "interval90_nm": list(verdict.interval90_nm),
        "hypotheses": [_hypothesis(one) for one in verdict.hypotheses],
        "why": [
            {
                "observation": one.name,
                "found": one.clause,
                "decibans": one.decibans,
                "words": one.words,
            }
            for one in verdict.why
        ],
        "would_change": list(verdict.changes),
        "next_check": verdict.next_check,
        "checks": [
            {"look": one.words, "expected_bits": one.bits, "expected_surety": one.surety}
            for one in verdict.checks
        ],
        "fits": verdict.fits,
        "fit_p": verdict.fit_p,
        "contradictions": list(verdict.contradictions),
        "warnings": list(verdict.warnings),
        "effective_films": verdict.effective_films,
        "metal": verdict.metal,
        "on": verdict.on,
        "observations": list(verdict.observations),
        "light": verdict.viewing.light,
        "observer": verdict.viewing.observer,
        "seed": verdict.seed,
    }


def _hypothesis(one: Hypothesis) -> Plain:
    return {
        "name": one.family,
        "words": one.phrase,
        "probability": one.probability,
        "variants": one.variants,
        "metals": one.metals,
        "thickness_nm": one.thickness_nm,
        "interval90_nm": list(one.interval90_nm),
        "region90_nm": [list(part) for part in one.region90_nm],
        "candidates": [{"thickness_nm": nm, "share": share} for nm, share in one.candidates],
        "example": {
            "thickness_nm": one.example_nm,
            "ohm_sq": one.example_ohm if math.isfinite(one.example_ohm) else None,
            **{side: {"srgb_hex": h, "name": n} for side, (h, n) in one.looks.items()},
        },
    }


def expectation_plain(expectation: Expectation) -> Plain:
    """What a good film should show."""
    return {
        "film": expectation.text,
        "metal": expectation.metal,
        "oxide": expectation.oxide or None,
        "on": expectation.on,
        "thickness_nm": expectation.thickness_nm,
        "expected": [_showing(one) for one in expectation.showings],
        "light": expectation.viewing.light,
        "observer": expectation.viewing.observer,
    }


def _showing(one: ExpectedLook) -> Plain:
    return {
        "oxidised": one.oxidised,
        "thickness_nm": one.thickness_nm,
        "front": appearance_plain(one.front),
        "back": appearance_plain(one.back) if one.back is not None else None,
        "through": appearance_plain(one.through) if one.through is not None else None,
        "optical_density": one.optical_density,
        "ohm_sq": None
        if one.ohm_sq is None
        else [ohm if math.isfinite(ohm) else None for ohm in one.ohm_sq],
        "mass_ug_cm2": one.mass_ug_cm2,
    }
