"""A run, step by step, as an answer."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import Any, ClassVar

from ..colour.colour import Colour
from ..colour.conditions import ViewingConditions
from ..deposition.geometry import Uniformity
from ..deposition.residual_gas import SPECIES, Chamber, MetalVerdict
from ..deposition.setup import Setup, WirePlan
from ..films.stack import Layer, Stack
from ..films.written import format_stack
from ..report.json import plain
from ..result import Result
from .needs import Needs
from .replan import Replan
from .witness import Witness


@dataclass(frozen=True, eq=False)
class Step:
    """One layer, in order of deposition.

    Attributes
    ----------
    number : int
        From 1, the layer that touches the substrate.
    face : {"front", "back"}
    layer : Layer
        With the thickness to deposit.
    material : str
        Its name, without the data set.
    planned_nm : float
        Thickness of the original plan [nm].
    made : bool
        Whether it has been deposited already.
    needs : Needs
        Charge, time, heat, wire and vacuum.
    witness : Witness
    remarks : tuple of str
    """

    number: int
    face: str
    layer: Layer
    material: str
    planned_nm: float
    made: bool
    needs: Needs
    witness: Witness
    remarks: tuple[str, ...]

    @property
    def thickness_nm(self) -> float:
        """Thickness to deposit [nm]."""
        return float(self.layer.thickness_nm)


@dataclass(frozen=True, eq=False, repr=False)
class RunSheet(Result):
    """A whole run.

    Attributes
    ----------
    text : str
        The stack as written.
    stack : Stack
        The stack to be deposited, after any change of plan.
    setup : Setup
    chamber : Chamber
    viewing : ViewingConditions
    angle_deg : float
    steps : tuple of Step
        In order of deposition.
    uniformity : Uniformity
        Of every layer alike: one source serves all.
    finished, rim : Colour
        The finished piece in its middle, and where it is coated least.
    rim_delta_e : float
        CIEDE2000 between the two.
    fresh_s : float
        How long a sacrificial first run keeps the walls drawing gas [s]; 0 without one.
    bare : Stack
        The witness slide before the first step.
    replan : Replan or None
    cautions : tuple of str
    """

    verb: ClassVar[str] = "sheet"
    rows: ClassVar[str] = "layers"

    text: str
    stack: Stack
    setup: Setup
    chamber: Chamber
    viewing: ViewingConditions
    angle_deg: float
    steps: tuple[Step, ...]
    uniformity: Uniformity
    finished: Colour
    rim: Colour
    rim_delta_e: float
    fresh_s: float
    bare: Stack
    replan: Replan | None
    cautions: tuple[str, ...]

    def json_fields(self) -> dict[str, Any]:
        """The run as plain data; ``layers`` are in order of deposition."""
        return _sheet_fields(self)


def _sheet_fields(sheet: RunSheet) -> dict[str, Any]:
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
        "finished": plain(sheet.finished),
        "rim": plain(sheet.rim),
        "rim_delta_e": sheet.rim_delta_e,
        "layers": [_step(step, sheet) for step in sheet.steps],
        "replan": None if sheet.replan is None else _replan(sheet.replan),
        "cautions": list(sheet.cautions),
    }


def _step(step: Step, sheet: RunSheet) -> dict[str, Any]:
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


def _witness(step: Step, moment: int, sheet: RunSheet) -> dict[str, Any]:
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
        "reflected": plain(seen.reflected[moment]),
        "reflected_back": None
        if seen.reflected_back is None
        else plain(seen.reflected_back[moment]),
        "transmitted": None if seen.transmitted is None else plain(seen.transmitted[moment]),
        "ohms_per_square": _ohms(seen, moment),
        "ohms_range": ranges,
    }


def _ohms(seen: Witness, moment: int) -> float | None:
    if seen.ohms_per_square is None:
        return None
    return _finite(float(seen.ohms_per_square[moment]))


def _metal(metal: MetalVerdict) -> dict[str, Any]:
    return {
        "verdict": metal.verdict,
        "probabilities": {"metal": metal.metal, "grey": metal.grey, "oxide": metal.oxide},
        "oxygen_held": metal.held,
        "stays_metal_below_mbar": metal.most_mbar,
        "stays_metal_above_nm_s": metal.least_nm_s,
    }


def _wire(wire: WirePlan) -> dict[str, Any]:
    found = asdict(wire)
    margin = wire.margin
    found["margin"] = None if margin is None else asdict(margin) | {"margin_K": margin.margin_K}
    return found | {"lifetime_s": None if wire.lifetime_s is None else _finite(wire.lifetime_s)}


def _replan(change: Replan) -> dict[str, Any]:
    return {
        "planned": plain(change.planned),
        "unchanged": plain(change.unchanged),
        "finished": plain(change.finished),
        "delta_e_unchanged": change.delta_e_unchanged,
        "delta_e": change.delta_e,
        "reflectance_rms_unchanged": change.rms_unchanged,
        "reflectance_rms": change.rms,
    }


def _finite(value: float) -> float | None:
    """JSON has no infinity: an open circuit, or a time without end, is null."""
    return value if math.isfinite(value) else None
