"""A layer of two materials mixed: two sources at once, each at its share of the rate.

In a graded layer the shares change evenly while it grows: one source falls from the whole rate to
nothing while the other rises to it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from ..deposition.metal_run import MetalRun
from ..deposition.setup import Setup
from ..deposition.source_plan import USUAL_NM_S, SourcePlan, plan_source
from ..films.materials.catalogue import MaterialEntry
from ..films.materials.effective_medium import Grade, Mixture, short_name
from ..films.materials.medium import Medium
from ..report.format import format_percent
from .remarks import remarks_on
from .witness import find_handbook_line

Judge = Callable[[MaterialEntry, SourcePlan, float], MetalRun | None]


@dataclass(frozen=True)
class MixedPart:
    """One of the two sources of a mixed layer.

    Attributes
    ----------
    material : str
    share : float
        Of the layer's volume [-].
    rate_nm_s : float
        Its share of the layer's rate: what it alone would lay on the piece [nm/s]; in a graded
        layer the most, which it begins or ends with.
    mass_g, source_temperature_C : float or None
        Charge that must evaporate, and how hot it must be; None where not known.
    states : dict or None
        Probabilities of ``metal``, ``grey`` and ``oxide`` for a metal in this gas at that rate.
    """

    material: str
    share: float
    rate_nm_s: float
    mass_g: float | None
    source_temperature_C: float | None
    states: dict[str, float] | None


@dataclass(frozen=True)
class MixedPlan:
    """Both sources: the layer's own rate, the parts, and what to mind."""

    source: SourcePlan
    parts: tuple[MixedPart, ...]
    remarks: tuple[str, ...]


@dataclass(frozen=True)
class _Part:
    """A part of the mixture, with its share of the volume, the greatest it has of the rate, and
    its handbook line."""

    medium: Medium
    share: float
    most: float

    @property
    def entry(self) -> MaterialEntry | None:
        return find_handbook_line(self.medium)

    @property
    def name(self) -> str:
        return short_name(self.medium)


def plan_mixed(
    medium: Mixture | Grade, thickness_nm: float, setup: Setup, *, rate_nm_s: float | None,
    free_path_cm: float, judge: Judge,
) -> MixedPlan:  # fmt: skip
    """Two sources at once, each as the one described, at rates whose ratio makes the mixture.

    Volumes are taken to add, so each part's rate is its volume fraction of the whole; the slower
    source sets the pace of both. ``judge`` is asked what the gas makes of a part, at its mean rate.
    A graded layer is met from the side that is laid last.
    """
    parts = _parts_of(medium)

    def plan(part: _Part, rate: float | None) -> SourcePlan:
        alone = None if rate is None else part.most * rate
        return plan_source(
            part.entry, part.share * thickness_nm, setup, rate_nm_s=alone,
            free_path_cm=free_path_cm,
        )  # fmt: skip

    tooled = setup.tooling if setup.source.kind == "sputter" else 1.0
    free = [plan(part, rate_nm_s) for part in parts]
    pace = min(one.rate_nm_s / part.most for one, part in zip(free, parts, strict=True))
    if any(one.rate_from.startswith("usual") for one in free):
        pace = min(pace, USUAL_NM_S * tooled)
    slowest = min(free, key=lambda one: one.rate_nm_s)
    whole = SourcePlan(
        pace, rate_nm_s, slowest.rate_from, max(one.rate_factor for one in free),
        "; ".join(dict.fromkeys(one.why_not for one in free if one.why_not)),
    )  # fmt: skip
    plans = [plan(part, pace / tooled) for part in parts]
    means = [
        replace(one, rate_nm_s=one.rate_nm_s * part.share / part.most)
        for part, one in zip(parts, plans, strict=True)
    ]
    runs = [
        None if part.entry is None else judge(part.entry, one, part.share * thickness_nm)
        for part, one in zip(parts, means, strict=True)
    ]
    time_s = thickness_nm / pace
    told = [_tell(*each, time_s, setup) for each in zip(parts, plans, runs, strict=True)]
    remarks = [remark for _, own in told for remark in own]
    said = _together(medium, parts, pace)
    return MixedPlan(whole, tuple(one for one, _ in told), (said, *remarks))


def _parts_of(medium: Mixture | Grade) -> list[_Part]:
    if isinstance(medium, Grade):
        return [_Part(part, 0.5, 1.0) for part in (medium.first, medium.second)]
    share = medium.fraction_second
    both = (medium.first, 1.0 - share), (medium.second, share)
    return [_Part(part, own, own) for part, own in both if own > 0.0]


def _together(medium: Medium, parts: list[_Part], pace_nm_s: float) -> str:
    if isinstance(medium, Grade):
        last, first = (part.name for part in parts)
        return (
            f"two sources at once, volumes taken to add: begin with {first} alone at "
            f"{pace_nm_s:.3g} nm/s, then lower it and raise {last} evenly in time until {last} "
            f"alone runs at {pace_nm_s:.3g} nm/s; set the rates of each behind its shutter before"
        )
    rates = " and ".join(f"{one.name} at {one.share * pace_nm_s:.3g} nm/s" for one in parts)
    return (
        f"two sources at once, {rates}, volumes taken to add: set each rate alone behind its "
        f"shutter, then open both together"
    )


def _tell(
    part: _Part, plan: SourcePlan, run: MetalRun | None, time_s: float, setup: Setup
) -> tuple[MixedPart, tuple[str, ...]]:
    """A part as it is listed, and what to mind about it."""
    balance = None if run is None else run.balance
    said = remarks_on(
        part.entry, part.name, plan, setup=setup, balance=balance, limits=None, time_s=time_s
    )  # fmt: skip
    if balance is not None:
        rate = "this rate" if part.most == part.share else "its mean rate, less where it is slow"
        said += (f"{format_percent(balance.states['metal'])} likely to stay metal at {rate}",)
    listed = MixedPart(
        part.name, part.share, plan.rate_nm_s, plan.mass_g,
        None if plan.heat is None else plan.heat.temperature_C,
        None if balance is None else {str(one): p for one, p in balance.states.items()},
    )  # fmt: skip
    return listed, tuple(f"{part.name}: {one}" for one in said)
