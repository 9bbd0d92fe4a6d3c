"""A run, step by step, as an answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from ..colour.colour import Colour
from ..deposition.alloys import Fraction
from ..deposition.arrival import Arrival
from ..deposition.gas_balance import GasBalance
from ..deposition.geometry import Piece, Placement, Source, Uniformity
from ..deposition.metal_run import MetalRun
from ..deposition.setup import Heater, Setup
from ..deposition.source_plan import SourcePlan, WirePlan
from ..films.stack import Stack
from ..remedies.remedies import Remedy
from ..result import Hidden, Result
from .gas import SPECIES, MetalLimits, RunGas
from .mixed_layer import MixedPart
from .monitoring.monitor import Monitoring
from .replan import Replan
from .witness import Witness, WitnessLook


@dataclass(frozen=True, eq=False)
class Step:
    """One layer, in order of deposition.

    Attributes
    ----------
    step : int
        From 1, the layer that touches the substrate.
    face : {"front", "back"}
    material, data_set : str
        Its name, and the optical data it is seen by.
    thickness_nm, planned_nm : float
        To deposit, and of the original plan [nm].
    made : bool
        Whether it has been deposited already.
    thinnest_nm, thickest_nm : float
        Over the piece [nm].
    rate_nm_s, time_s : float
        In the middle of the piece; thickness is their product.
    possible : bool
        Whether the source can do what was asked. Where it cannot, rate, time and heat are those of
        what it can.
    plan : SourcePlan
        Charge, heat and wire; not listed, for its parts are.
    run : MetalRun or None
        A metal in its gas, as states, limits and remedies are computed from it; not listed, for
        its parts are.
    states : dict or None
        Probabilities of ``metal``, ``grey`` and ``oxide``, the likeliest first; None for no metal.
    limits : MetalLimits or None
        What would keep it metal, where that is in doubt.
    witness : dict
        What the slide shows after the layer: for each state, the likeliest first, or for ``film``
        of what is no metal; None where the index of that state is not held.
    moments : tuple of WitnessLook
        While the layer grows, in the likeliest state.
    remarks : tuple of str
    remedies : tuple of Remedy
        What to change, ranked, where a metal is in doubt or trouble was told of; of several layers
        of one metal the first has them.
    parts : tuple of MixedPart
        The two sources of a mixed layer; empty for a layer of one material.
    """

    also: ClassVar[tuple[str, ...]] = (
        "mass_g", "asked_nm_s", "rate_from", "rate_factor", "source_temperature_C",
        "source_temperature_extrapolated", "vapour_pressure_mbar", "vapour_pressure_from",
        "wire", "arrival", "fractions", "arrival_ratio", "arrival_species", "oxygen_per_metal",
        "nitrogen_per_metal", "nitride", "stays_metal", "ohms_per_square",
    )  # fmt: skip

    step: int
    face: str
    material: str
    data_set: str
    thickness_nm: float
    planned_nm: float
    made: bool
    thinnest_nm: float
    thickest_nm: float
    rate_nm_s: float
    time_s: float
    possible: bool
    plan: Hidden[SourcePlan]
    run: Hidden[MetalRun | None]
    states: dict[str, float] | None
    limits: MetalLimits | None
    witness: dict[str, WitnessLook | None]
    moments: tuple[WitnessLook, ...]
    remarks: tuple[str, ...]
    seen: Hidden[Witness]
    remedies: tuple[Remedy, ...] = ()
    parts: tuple[MixedPart, ...] = ()

    @property
    def balance(self) -> GasBalance | None:
        """What the gas makes of a metal."""
        return None if self.run is None else self.run.balance

    @property
    def mass_g(self) -> float | None:
        """Charge that must evaporate [g]."""
        return self.plan.mass_g

    @property
    def asked_nm_s(self) -> float | None:
        """Rate that was asked for [nm/s]."""
        return self.plan.asked_nm_s

    @property
    def rate_from(self) -> str:
        """Where the rate comes from."""
        return self.plan.rate_from

    @property
    def rate_factor(self) -> float:
        """Factor either way within which the rate is known."""
        return self.plan.rate_factor

    @property
    def source_temperature_C(self) -> float | None:
        """How hot the charge must be."""
        return None if self.plan.heat is None else self.plan.heat.temperature_C

    @property
    def source_temperature_extrapolated(self) -> bool | None:
        """Whether that lies beyond the data of the vapour pressure."""
        return None if self.plan.heat is None else self.plan.heat.extrapolated

    @property
    def vapour_pressure_mbar(self) -> float | None:
        """At that temperature."""
        return None if self.plan.heat is None else self.plan.heat.pressure_mbar

    @property
    def vapour_pressure_from(self) -> str | None:
        """Where the vapour pressure comes from."""
        return None if self.plan.heat is None else self.plan.heat.tag

    @property
    def wire(self) -> WirePlan | None:
        """How a hot wire does it."""
        return self.plan.wire

    @property
    def arrival(self) -> Arrival | None:
        """How the vapour comes through the gas."""
        return self.plan.arrival

    @property
    def fractions(self) -> tuple[Fraction, ...]:
        """How a heated alloy comes apart."""
        return self.plan.fractions

    @property
    def arrival_ratio(self) -> float | None:
        """Oxygen atoms that meet each metal atom."""
        return None if self.balance is None else self.balance.offered_per_metal

    @property
    def arrival_species(self) -> str:
        """What ``arrival_ratio`` counts."""
        return SPECIES

    @property
    def oxygen_per_metal(self) -> float | None:
        """Oxygen atoms that stay in the film for each metal atom."""
        return None if self.balance is None else self.balance.oxygen_per_metal

    @property
    def nitrogen_per_metal(self) -> float | None:
        """Nitrogen atoms likewise."""
        return None if self.balance is None else self.balance.nitrogen_per_metal

    @property
    def nitride(self) -> float | None:
        """Probability of a golden nitride, part of metal and grey."""
        return None if self.balance is None else self.balance.nitride

    @property
    def state(self) -> str:
        """The likeliest state; ``film`` for what is no metal."""
        return next(iter(self.states)) if self.states else "film"

    @property
    def stays_metal(self) -> bool | None:
        """Whether metal is the likeliest; None for what is no metal."""
        return None if self.states is None else self.state == "metal"

    @property
    def ohms_per_square(self) -> float | None:
        """What a meter finds after the layer, in the likeliest state."""
        seen = self.witness[self.state]
        return None if seen is None else seen.ohms_per_square


@dataclass(frozen=True)
class PossibleLayer:
    """What the source can do for one layer."""

    step: int
    material: str
    rate_nm_s: float
    time_s: float
    source_temperature_C: float | None
    current_A: float | None


@dataclass(frozen=True)
class PossibleRun:
    """What the source can do.

    Attributes
    ----------
    as_asked : bool
        Whether that is what was asked.
    why_not : tuple of str
    time_s : float
        Of all layers that are still to come [s].
    layers : tuple of PossibleLayer
    """

    as_asked: bool
    why_not: tuple[str, ...]
    time_s: float
    layers: tuple[PossibleLayer, ...]


@dataclass(frozen=True, eq=False, repr=False)
class RunSheet(Result):
    """A whole run.

    Attributes
    ----------
    stack : str
        As written.
    to_deposit : str
        The stack to be deposited, after any change of plan.
    angle_deg : float
        At which witness and piece are looked at [°].
    light : str
    observer : int
    source : Source
    placement : Placement
    piece : Piece
    heater : Heater
    tooling : float
    gas : RunGas
    witness_slide : str
        Before the first step.
    uniformity : Uniformity
        Of every layer alike: one source serves all.
    finished, rim : Colour or None
        The finished piece in its middle, and where it is coated least, each layer in its likeliest
        state; None where the index of such a state is not held.
    rim_delta_e : float or None
        CIEDE2000 between the two.
    possible : PossibleRun
    layers : tuple of Step
        In order of deposition.
    replan : Replan or None
    cautions : tuple of str
    setup : Setup
    films, bare : Stack
        The stack to be deposited, and the witness slide, as objects.
    goals : tuple of str
        What the piece is for, where that was said.
    monitoring : Monitoring or None
        What to watch in each layer, where that was asked.
    """

    verb: ClassVar[str] = "sheet"
    rows: ClassVar[str] = "layers"

    stack: str
    to_deposit: str
    angle_deg: float
    light: str
    observer: int
    source: Source
    placement: Placement
    piece: Piece
    heater: Heater
    tooling: float
    gas: RunGas
    witness_slide: str
    uniformity: Uniformity
    finished: Colour | None
    rim: Colour | None
    rim_delta_e: float | None
    possible: PossibleRun
    layers: tuple[Step, ...]
    replan: Replan | None
    cautions: tuple[str, ...]
    setup: Hidden[Setup]
    films: Hidden[Stack]
    bare: Hidden[Stack]
    goals: tuple[str, ...] = ()
    monitoring: Monitoring | None = None

    @property
    def trusted(self) -> bool:
        """Whether the source can do what was asked."""
        return self.possible.as_asked
