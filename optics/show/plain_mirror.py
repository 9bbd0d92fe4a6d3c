"""Designs as plain data for JSON: the keys are a contract, the numbers are unrounded."""

from __future__ import annotations

from ..design.design import Design, Designs
from ..design.merit import GoalResult
from ..design.tolerance import Tolerance
from ..films.written import format_stack
from .plain import Plain


def designs_plain(found: Designs) -> Plain:
    """All designs, the best first, with what was asked."""
    return {
        "met": found.met,
        "designs": [_design(design) for design in found.designs],
        "goals": [str(goal) for goal in found.goals],
        "on": format_stack(found.base),
        "with": [medium.label for medium in found.palette],
        "max_layers": found.limits.most_layers,
        "thinnest_nm": found.limits.thinnest_nm,
        "thickest_nm": found.limits.thickest_nm,
        "total_nm": found.total_nm,
        "tolerance": None if found.errors is None else str(found.errors),
        "angle_deg": found.angle_deg,
        "light": found.viewing.light,
        "observer": found.viewing.observer,
        "seed": found.seed,
        "refinements": found.spent,
        "interrupted": found.interrupted,
        "notes": list(found.notes),
    }


def _design(design: Design) -> Plain:
    plain: Plain = {
        "stack": design.stack,
        "merit": design.merit,
        "met": design.met,
        "mean_R": design.mean_R,
        "min_R": design.min_R,
        "band_nm": list(design.band_nm),
        "srgb_hex": design.srgb_hex,
        "name": design.name,
        "yield": design.yield_share,
        "family": design.family,
        "layers": [
            {"material": layer.medium.label, "thickness_nm": float(layer.thickness_nm)}
            for layer in design.piece.layers[: design.layers]
        ],
        "total_nm": design.total_nm,
        "goals": [_result(result) for result in design.results],
    }
    return plain | ({} if design.tolerance is None else _tolerance(design.tolerance))


def _result(result: GoalResult) -> Plain:
    return {
        "goal": result.goal,
        "met": result.met,
        "miss": result.miss,
        "spare": result.spare,
        "least": result.least,
        "mean": result.mean,
        "most": result.most,
        "unit": result.unit,
    }


def _tolerance(tolerance: Tolerance) -> Plain:
    weakest = tolerance.weakest
    return {
        "yield_error": tolerance.yield_error,
        "samples": tolerance.samples,
        "goal_yields": list(tolerance.goal_shares),
        "layer_losses": tolerance.layer_losses.tolist(),
        "weakest_layer": None if weakest is None else weakest + 1,
    }
