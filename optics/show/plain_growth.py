"""Answers about heat and oxide as plain data for JSON: the keys are a contract."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from ..tint.calibrate import Calibration
from ..tint.heat_strip import HeatStrip, PlateHold
from ..tint.recipes import Recipe, Recipes
from ..tint.targets import Target
from ..tint.tint import PlatePoint, Tint

Plain = dict[str, Any]


def tint_plain(tint: Tint, along_mm: float | None = None) -> Plain:
    """Oxide and colour after a heat or a bath."""
    plain: Plain = {
        "metal": tint.metal,
        "metal_name": tint.metal_name,
        "oxide": tint.oxide,
        "treatment": tint.treatment,
        "thickness_nm": tint.thickness_nm,
        "interval90_nm": list(tint.interval90_nm),
        "native_nm": tint.native_nm,
        "metal_used_nm": tint.metal_used_nm,
        "metal_used90_nm": list(tint.metal_used90_nm),
        "metal_left_nm": tint.metal_left_nm,
        "mass_gain_ug_cm2": tint.mass_gain_ug_cm2,
        "volume_ratio": tint.volume_ratio,
        "stress": tint.stress,
        "srgb_hex": tint.srgb_hex,
        "name": tint.name,
        "order": tint.order,
        "names": [asdict(shade) for shade in tint.shades],
        "law": tint.law,
        "source": tint.source,
        "confidence": tint.confidence,
        "note": tint.note,
        "data_sets": list(tint.optical_data),
        "warnings": list(tint.warnings),
        "cautions": list(tint.cautions),
        "seed": tint.seed,
    }
    if tint.plate:
        plain["plate"] = [_place(point, along_mm) for point in tint.plate]
    return plain


def recipes_plain(found: Recipes) -> Plain:
    """Heats or voltages that give a colour."""
    return {
        "metal": found.metal,
        "metal_name": found.metal_name,
        "oxide": found.oxide,
        "want": found.want,
        "attainable": found.attainable,
        "recipes": [_recipe(one) for one in found.recipes],
        "nearest": _target(found.nearest),
        "shown_at": [_target(one) for one in found.targets],
        "law": found.law,
        "source": found.source,
        "confidence": found.confidence,
        "warnings": list(found.warnings),
        "cautions": list(found.cautions),
        "seed": found.seed,
    }


def plate_plain(held: PlateHold, along_mm: float | None) -> Plain:
    """How to hold a plate."""
    return {
        "metal": held.metal,
        "metal_name": held.metal_name,
        "oxide": held.oxide,
        "want": held.want,
        "first_C": held.first_C,
        "last_C": held.last_C,
        "time_min": held.time_min,
        "plate": [_place(point, along_mm) for point in held.points],
        "warnings": list(held.warnings),
        "cautions": list(held.cautions),
    }


def strip_plain(strip: HeatStrip) -> Plain:
    """Colours over temperature and time; rows are temperatures."""
    return {
        "metal": strip.metal,
        "metal_name": strip.metal_name,
        "oxide": strip.oxide,
        "temperature_C": strip.temperature_C.tolist(),
        "time_min": strip.time_min.tolist(),
        "thickness_nm": strip.thickness_nm.tolist(),
        "srgb_hex": strip.srgb_hex.tolist(),
        "name": strip.name.tolist(),
        "source": strip.source,
        "warnings": list(strip.warnings),
        "cautions": list(strip.cautions),
    }


def learned_plain(learned: Calibration) -> Plain:
    """The law of a kiln from its test pieces."""
    return {
        "metal": learned.metal,
        "metal_name": learned.metal_name,
        "kiln": learned.kiln_name,
        "law": learned.law,
        "source": learned.source,
        "pieces": learned.kiln.pieces,
        "parameters": [
            {
                "name": one.name,
                "value": one.value,
                "interval90": list(one.interval90),
                "shipped": one.shipped,
                "shipped90": list(one.shipped90),
            }
            for one in learned.parameters
        ],
        "residuals": [
            {
                "id": one.id,
                "heat": one.heat,
                "outcome": one.outcome,
                "thickness_nm": one.thickness_nm,
                "predicted_nm": one.predicted_nm,
                "residual_nm": one.thickness_nm - one.predicted_nm,
                "interval90_nm": list(one.interval90_nm),
                "fit_p": one.fit_p,
            }
            for one in learned.residuals
        ],
        "fits": learned.fits,
        "pace": learned.pace,
        "width_ratio": learned.width_ratio,
        "width_heat": learned.width_heat,
        "next_piece": asdict(learned.next_piece),
        "warnings": list(learned.warnings),
        "cautions": list(learned.cautions),
        "seed": learned.seed,
    }


def _recipe(one: Recipe) -> Plain:
    spread = None if one.spread is None else asdict(one.spread)
    return {
        "temperature_C": one.temperature_C,
        "time_min": one.time_min,
        "volts": one.volts,
        "solved_for": one.solved_for,
        "thickness_nm": one.thickness_nm,
        "interval90_nm": list(one.interval90_nm),
        "order": one.order,
        "srgb_hex": one.srgb_hex,
        "name": one.name,
        "delta_e": one.delta_e,
        "chance": one.chance,
        "spread": spread,
    }


def _target(one: Target) -> Plain:
    return {
        "thickness_nm": one.thickness_nm,
        "between_nm": list(one.between_nm),
        "order": one.order,
        "srgb_hex": one.srgb_hex,
        "name": one.name,
        "delta_e": one.delta_e,
    }


def _place(point: PlatePoint, along_mm: float | None) -> Plain:
    plain = asdict(point) | {"interval90_nm": list(point.interval90_nm)}
    if along_mm is not None:
        plain["position_mm"] = point.position * along_mm
    return plain
