"""The run sheet as plain data for JSON."""

from __future__ import annotations

import math
from dataclasses import asdict

from ..deposition.residual_gas import SPECIES, MetalVerdict
from ..deposition.setup import WirePlan
from ..films.written import format_stack
from ..run_sheet.replan import Replan
from ..run_sheet.run_sheet import RunSheet, Step
from ..run_sheet.witness import Witness
from .plain import Plain, appearance_plain


def sheet_plain(sheet: RunSheet) -> Plain:
    """A run sheet; ``layers`` are in laying order."""
    setup, chamber, even = sheet.setup, sheet.chamber, sheet.uniformity
    return {
        "stack": sheet.text,
        "to_lay": format_stack(sheet.stack),
        "angle_deg": sheet.angle_deg,
        "light": sheet.viewing.light,
        "observer": sheet.viewing.observer,
        "source": asdict(setup.source),
        "placement": asdict(setup.placement),
        "piece": asdict(setup.piece),
        "heater": asdict(setup.heater),
        "tooling": setup.tooling,
        "chamber": asdict(chamber),
        "getter_fresh_s": _finite(sheet.fresh_s),
        "witness_slide": format_stack(sheet.bare),
        "uniformity": {
            "lowest": even.lowest,
            "highest": even.highest,
            "half_spread": even.half_spread,
        },
        "finished": appearance_plain(sheet.finished),
        "rim": appearance_plain(sheet.rim),
        "rim_delta_e": sheet.rim_delta_e,
        "layers": [_step(step, sheet) for step in sheet.steps],
        "replan": None if sheet.replan is None else _replan(sheet.replan),
        "cautions": list(sheet.cautions),
    }


def _step(step: Step, sheet: RunSheet) -> Plain:
    needs, even = step.needs, sheet.uniformity
    source, metal = needs.source, needs.metal
    last = step.witness.thickness_nm.size - 1
    return {
        "step": step.number,
        "face": step.face,
        "material": step.material,
        "data_set": step.layer.medium.label,
        "thickness_nm": step.thickness_nm,
        "planned_nm": step.planned_nm,
        "made": step.made,
        "thinnest_nm": even.lowest * step.thickness_nm,
        "thickest_nm": even.highest * step.thickness_nm,
        "mass_g": needs.mass_g,
        "rate_nm_s": needs.rate_nm_s,
        "time_s": needs.time_s,
        "source_temperature_C": None if source is None else source.temperature_C,
        "source_temperature_extrapolated": None if source is None else source.extrapolated,
        "vapour_pressure_mbar": None if source is None else source.pressure_mbar,
        "vapour_pressure_from": None if source is None else source.tag,
        "arrival_ratio": None if metal is None else metal.offered,
        "arrival_species": SPECIES,
        "stays_metal": None if metal is None else metal.stays_metal,
        "metal": None if metal is None else _metal(metal),
        "wire": None if needs.wire is None else _wire(needs.wire),
        "ohms_per_square": _ohms(step.witness, last),
        "witness": _witness(step, last, sheet),
        "moments": [_witness(step, i, sheet) for i in range(step.witness.thickness_nm.size)],
        "remarks": list(step.remarks),
    }


def _witness(step: Step, moment: int, sheet: RunSheet) -> Plain:
    """The witness slide when the layer has reached one of its moments."""
    seen = step.witness
    reached = float(seen.thickness_nm[moment])
    share = reached / step.thickness_nm
    ranges = None
    if seen.ohms_range is not None:
        ranges = [_finite(float(ohm)) for ohm in seen.ohms_range[moment]]
    return {
        "stack": format_stack(seen.slide) if share == 1.0 else None,
        "thickness_nm": reached,
        "time_s": share * step.needs.time_s,
        "angle_deg": sheet.angle_deg,
        "light": sheet.viewing.light,
        "observer": sheet.viewing.observer,
        "reflected": appearance_plain(seen.reflected, (moment,)),
        "reflected_back": None
        if seen.reflected_back is None
        else appearance_plain(seen.reflected_back, (moment,)),
        "transmitted": None
        if seen.transmitted is None
        else appearance_plain(seen.transmitted, (moment,)),
        "ohms_per_square": _ohms(seen, moment),
        "ohms_range": ranges,
    }


def _ohms(seen: Witness, moment: int) -> float | None:
    if seen.ohms_per_square is None:
        return None
    return _finite(float(seen.ohms_per_square[moment]))


def _metal(metal: MetalVerdict) -> Plain:
    return {
        "verdict": metal.verdict,
        "probabilities": {"metal": metal.metal, "grey": metal.grey, "oxide": metal.oxide},
        "oxygen_held": metal.held,
        "stays_metal_below_mbar": metal.most_mbar,
        "stays_metal_above_nm_s": metal.least_nm_s,
    }


def _wire(wire: WirePlan) -> Plain:
    plain = asdict(wire)
    margin = wire.margin
    plain["margin"] = None if margin is None else asdict(margin) | {"margin_K": margin.margin_K}
    return plain | {"lifetime_s": None if wire.lifetime_s is None else _finite(wire.lifetime_s)}


def _replan(change: Replan) -> Plain:
    return {
        "planned": appearance_plain(change.planned),
        "unchanged": appearance_plain(change.unchanged),
        "finished": appearance_plain(change.finished),
        "delta_e_unchanged": change.delta_e_unchanged,
        "delta_e": change.delta_e,
        "reflectance_rms_unchanged": change.rms_unchanged,
        "reflectance_rms": change.rms,
    }


def _finite(value: float) -> float | None:
    """JSON has no infinity: an open circuit, or a time without end, is null."""
    return value if math.isfinite(value) else None
