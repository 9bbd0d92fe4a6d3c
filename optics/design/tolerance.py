"""How a design performs when what is deposited differs from what was meant."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from .._typing import BoolArray, FloatArray, IndexArray
from ..errors import InputError, LimitError, NotationError
from ..numerics.parallel import Report, child_rng, ignore_progress, map_parallel, rng_root
from ..units import NUMBER
from .merit import Merit
from .observation import GoalObservation, make_observation
from .phase_observation import PhaseObservation

MAX_SAMPLES = 10_000_000
FINE = 2
"""How many times finer than the search's the grid of a yield is."""
_BLOCK = 2_000  # samples at a time; each block has its own random stream, whoever computes it
_BAND = (0.05, 0.95)
_CURVE_SAMPLES = 400

_PART = re.compile(rf"\s*(?:(index each|index|tooling|angle)\s+)?({NUMBER})\s*(%|nm|deg)\s*")
_MEANING = {
    ("", "%"): "relative_percent",
    ("", "nm"): "absolute_nm",
    ("index", "%"): "index_percent",
    ("index each", "%"): "index_each_percent",
    ("tooling", "%"): "tooling_percent",
    ("angle", "deg"): "angle_deg",
}
_MOST = {"absolute_nm": 100.0, "angle_deg": 30.0}


@dataclass(frozen=True)
class DepositionErrors:
    """Standard deviations of independent, normally distributed errors.

    Attributes
    ----------
    relative_percent, absolute_nm : float
        Of every layer's thickness by itself; the two add as squares.
    index_percent : float
        Of the index of each material, shared by all its layers: density and oxygen of a run.
    tooling_percent : float
        Of a factor common to all thicknesses: the distance, or a place on the piece.
    angle_deg : float
        Of the angle the piece is used at.
    index_each_percent : float
        Of every layer's index by itself.
    """

    relative_percent: float = 0.0
    absolute_nm: float = 0.0
    index_percent: float = 0.0
    tooling_percent: float = 0.0
    angle_deg: float = 0.0
    index_each_percent: float = 0.0

    def __str__(self) -> str:
        parts = []
        for (word, unit), name in _MEANING.items():
            value = getattr(self, name)
            if value:
                parts.append(f"{word} {value:g}{unit}".strip())
        return ", ".join(parts) or "none"


@dataclass(frozen=True, eq=False)
class Tolerance:
    """What errors do to one design.

    Attributes
    ----------
    errors : DepositionErrors
    samples : int
    yield_share : float
        Share of the samples that meet every goal.
    yield_error : float
        Standard error of that share.
    goal_shares : tuple of float
        Share of the samples that meet each goal.
    layer_losses : ndarray, shape (L,)
        How much of the goals' margins one standard deviation of each layer's own thickness
        costs, thicker or thinner, whichever costs more [percent points].
    weakest : int or None
        The layer that matters most, counted from 0; None if none does.
    wavelength_nm, low_R, high_R : ndarray, shape (W,)
        Where 90 % of the samples' reflectances lie, in the first sight of the goals on R, T or A.
    """

    errors: DepositionErrors
    samples: int
    yield_share: float
    yield_error: float
    goal_shares: tuple[float, ...]
    layer_losses: FloatArray
    weakest: int | None
    wavelength_nm: FloatArray
    low_R: FloatArray
    high_R: FloatArray

    def json_fields(self) -> dict[str, Any]:
        """What a design's JSON says of its tolerance."""
        return {
            "yield_error": self.yield_error,
            "samples": self.samples,
            "goal_yields": list(self.goal_shares),
            "layer_losses": self.layer_losses.tolist(),
            "weakest_layer": None if self.weakest is None else self.weakest + 1,
            "weakest_step": None if self.weakest is None else self.layer_losses.size - self.weakest,
        }


def as_errors(errors: DepositionErrors | str) -> DepositionErrors:
    """Errors from what a caller gave: themselves, or how they are written.

    Raises
    ------
    InputError
        If it is neither, or the text is refused.
    """
    if isinstance(errors, DepositionErrors):
        return errors
    if isinstance(errors, str):
        return parse_errors(errors)
    raise InputError(
        f"`errors` is a text such as '3%, index 1%' or DepositionErrors, not {errors!r:.80}",
        parameter="errors",
    )


def parse_errors(text: str) -> DepositionErrors:
    """Read errors as written: ``3%``, ``1nm``, ``3%, index 1%, tooling 2%, angle 1deg``.

    Raises
    ------
    NotationError
        If a part is none of these, stands twice, or is out of reach.
    """
    found: dict[str, float] = {}
    at = 0
    while True:
        match = _PART.match(text, at)
        name = _MEANING.get((match[1] or "", match[3])) if match else None
        if match is None or name is None:
            raise NotationError(
                text,
                at,
                "expected an error such as 3%, 1nm, index 1%, tooling 2% or angle 1deg",
            )
        value = float(match[2])
        if name in found:
            raise NotationError(text, at, "this kind of error is written twice")
        if not 0.0 < value <= _MOST.get(name, 50.0):
            raise NotationError(
                text, match.start(2), f"must lie above 0, up to {_MOST.get(name, 50.0):g}"
            )
        found[name] = value
        at = match.end()
        if at == len(text):
            return DepositionErrors(**found)
        if text[at] != ",":
            raise NotationError(text, at, "expected ',' and another error, or the end")
        at += 1


def simulate(
    merit: Merit,
    which: IndexArray,
    thickness_nm: FloatArray,
    *,
    errors: DepositionErrors,
    samples: int,
    rng: np.random.Generator,
    workers: int | None = None,
    report: Report = ignore_progress,
) -> Tolerance:
    """Deposit a design many times with random errors.

    Parameters
    ----------
    which, thickness_nm : ndarray, shape (L,)
        The design, as it is meant.
    samples : int
        1 to ten million.
    workers : int, optional
        How many; the answer does not depend on it, nor on their being threads or a cluster.
    report : callable
        Called with how far it is.

    Raises
    ------
    InputError, LimitError
        If there are no errors to simulate, or too few or too many samples.

    Notes
    -----
    ``d_j' = d_j (1 + e_tooling)(1 + e_j) + a_j``, not below 0; ``n_j' = n_j (1 + e_m + e_n,j)``,
    e_m one error for all layers of a material; all normal. A sample counts as good when it
    meets every goal on the goals' grids.
    """
    if errors == DepositionErrors():
        raise InputError("a tolerance needs at least one error, such as 3%")
    if not 1 <= samples <= MAX_SAMPLES:
        raise LimitError(f"samples must lie between 1 and {MAX_SAMPLES:,}, not {samples:,}")
    root = rng_root(rng)
    block = partial(_meet_goals, merit, which, thickness_nm, errors, samples, root)
    blocks = range(-(-samples // _BLOCK))
    told = f"simulating {samples:,} pieces with errors"
    met = np.concatenate(
        list(map_parallel(block, blocks, kind="threads", workers=workers, report=report, what=told))
    )
    share = float(met.all(axis=-1).mean())
    losses = _layer_losses(merit, which, thickness_nm, errors)
    sight = _curve_sight(merit)
    low, high = _curves(sight, which, thickness_nm, errors, child_rng(root, len(blocks)))
    return Tolerance(
        errors, samples, share, float(np.sqrt(share * (1.0 - share) / samples)),
        tuple(met.mean(axis=0).tolist()), losses,
        int(np.argmax(losses)) if losses.size and losses.max() > 0.0 else None,
        sight.wavelength_nm, low, high,
    )  # fmt: skip


def _meet_goals(
    merit: Merit,
    which: IndexArray,
    thickness_nm: FloatArray,
    errors: DepositionErrors,
    samples: int,
    root: np.random.SeedSequence,
    block: int,
) -> BoolArray:
    """Which goals each sample of a block meets, shape (n, G)."""
    size = min(_BLOCK, samples - block * _BLOCK)
    nm, index, tilt = draw_errors(
        which, thickness_nm, errors, samples=size, rng=child_rng(root, block)
    )
    met: BoolArray = merit.worst(which, nm, index_error=index, tilt_deg=tilt) <= merit.allowed
    return met


def draw_errors(
    which: IndexArray,
    thickness_nm: FloatArray,
    errors: DepositionErrors,
    *,
    samples: int,
    rng: np.random.Generator,
) -> tuple[FloatArray, FloatArray | None, FloatArray | None]:
    """What is deposited: thicknesses (N, L), relative index errors (N, L), angle errors (N,)."""
    shape = (samples, thickness_nm.size)
    nm = np.tile(thickness_nm, (samples, 1))
    if errors.relative_percent:
        nm = nm * (1.0 + 0.01 * errors.relative_percent * rng.standard_normal(shape))
    if errors.tooling_percent:
        nm = nm * (1.0 + 0.01 * errors.tooling_percent * rng.standard_normal((samples, 1)))
    if errors.absolute_nm:
        nm = nm + errors.absolute_nm * rng.standard_normal(shape)
    index = draw_index_errors(which, errors, samples=samples, rng=rng)
    tilt = errors.angle_deg * rng.standard_normal(samples)
    return (
        np.maximum(nm, 0.0),
        index,
        tilt if errors.angle_deg else None,
    )


def draw_index_errors(
    which: IndexArray, errors: DepositionErrors, *, samples: int, rng: np.random.Generator
) -> FloatArray | None:
    """Relative errors of index (N, L): one for each material, one more for each layer; or None."""
    if not (errors.index_percent or errors.index_each_percent):
        return None
    media, at = np.unique(which, return_inverse=True)
    shared = rng.standard_normal((samples, media.size))[:, at.ravel()]
    own = rng.standard_normal((samples, which.size)) if errors.index_each_percent else 0.0
    percent = errors.index_percent * shared + errors.index_each_percent * own
    return np.maximum(0.01 * percent, -0.5)


def thickness_sd_nm(thickness_nm: FloatArray, errors: DepositionErrors) -> FloatArray:
    """Standard deviation [nm] of each layer's own thickness, shape (L,)."""
    own = np.hypot(0.01 * errors.relative_percent * thickness_nm, errors.absolute_nm)
    return np.asarray(own, dtype=float)


def _layer_losses(
    merit: Merit, which: IndexArray, thickness_nm: FloatArray, errors: DepositionErrors
) -> FloatArray:
    # Where only a common factor errs, its share of each layer tells as much.
    spread = thickness_sd_nm(thickness_nm, errors)
    if not spread.any():
        spread = (
            0.01
            * (errors.tooling_percent + errors.index_percent + errors.index_each_percent)
            * thickness_nm
        )
    step = np.diag(spread)
    moved = np.maximum(np.concatenate([thickness_nm + step, thickness_nm - step]), 0.0)
    lost = merit.margins(which, thickness_nm) - merit.margins(which, moved)
    both = np.maximum(lost, 0.0).sum(axis=-1).reshape(2, -1)
    losses: FloatArray = both.max(axis=0)
    return losses


def _curve_sight(merit: Merit) -> GoalObservation:
    """The first sight of the goals; where those on phases are the only ones, R of the same."""
    first = merit.sights[0]
    plain = [one for one in merit.sights if not isinstance(one, PhaseObservation)]
    if plain:
        return plain[0]
    return make_observation(
        merit.base, merit.palette, first.wavelength_nm, angle_deg=first.angle_deg,
        polarization=first.polarization, back=first.back, cover=merit.cover,
    )  # fmt: skip


def _curves(
    sight: GoalObservation,
    which: IndexArray,
    thickness_nm: FloatArray,
    errors: DepositionErrors,
    rng: np.random.Generator,
) -> tuple[FloatArray, FloatArray]:
    nm, index, tilt = draw_errors(which, thickness_nm, errors, samples=_CURVE_SAMPLES, rng=rng)
    R = sight.powers(sight.index(which, index), nm, tilt).R[:, 0]
    low, high = np.quantile(R, _BAND, axis=0)
    return low, high
