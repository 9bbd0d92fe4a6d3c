"""Gas in the way of the vapour: what share of it arrives, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass

from .geometry import Placement, Source, share_on

_ARGON_G_MOL = 39.948
_SPUTTERED_EV = 5.0  # mean energy of sputtered atoms (common practice, no source)
_THERMAL_EV = 0.025
_BACK = 0.5  # of scattered atoms, half drift back towards the source (judgement)
_WORST = 2.0  # factor of doubt either way where all of the vapour is scattered (judgement)


@dataclass(frozen=True)
class Arrival:
    """How the vapour comes through the gas.

    Attributes
    ----------
    free_path_cm : float
        Mean way of a gas molecule between collisions [cm].
    directed : float
        Share of the vapour that still flies straight at the piece [-].
    factor : float
        What reaches the piece over what would without gas [-].
    doubt : float
        Factor either way within which that is known.
    """

    free_path_cm: float
    directed: float
    factor: float
    doubt: float


def stopping_way_cm(free_path_cm: float, molar_mass: float) -> float:
    """Way in which sputtered atoms lose their energy and their direction [cm].

    Parameters
    ----------
    molar_mass : float
        Of the atoms that fly [g/mol].

    Notes
    -----
    A hard-sphere collision with argon takes away ``2 m M/(m + M)²`` of the energy on average, so
    from 5 eV to that of the gas it takes n collisions; a fast atom meets one on each ``√2`` mean
    free paths. The result stands for p0 d0 of Keller and Simmons at this pressure; an estimate.
    """
    lost = 2.0 * molar_mass * _ARGON_G_MOL / (molar_mass + _ARGON_G_MOL) ** 2
    collisions = math.log(_SPUTTERED_EV / _THERMAL_EV) / -math.log1p(-lost)
    return collisions * math.sqrt(2.0) * free_path_cm


def directed_share(way_cm: float, stopping_cm: float) -> float:
    """Share of the atoms that arrive directed [-], ``(s/d) [1 - exp(-d/s)]``.

    J. H. Keller and R. G. Simmons, IBM J. Res. Dev. 23, 24 (1979), with s = p0 d0 / p.
    """
    depth = way_cm / stopping_cm
    return -math.expm1(-depth) / depth if depth > 1e-12 else 1.0


def arrival(
    source: Source, placement: Placement, free_path_cm: float, *, molar_mass: float
) -> Arrival:
    """What gas on the way leaves of the vapour.

    Parameters
    ----------
    source : Source
    placement : Placement
    free_path_cm : float
        See :func:`~oxhue.optics.deposition.gases.mean_free_path_cm`.
    molar_mass : float
        Of the atoms that fly [g/mol].

    Notes
    -----
    Sputtered atoms are counted as long as they are directed. Evaporated ones are slow: one
    collision turns them, and what is scattered spreads alike in all directions, half of it back;
    beyond a few mean free paths all of it diffuses.
    """
    way_cm = 0.1 * math.hypot(placement.distance_mm, placement.offset_mm)
    if source.kind == "sputter":
        directed = directed_share(way_cm, stopping_way_cm(free_path_cm, molar_mass))
        return Arrival(free_path_cm, directed, directed, _WORST ** (1.0 - directed))
    directed = directed_share(way_cm, free_path_cm)
    even = 1.0 / (4.0 * math.pi * way_cm**2)  # all directions alike, on 1 cm²
    straight = float(share_on(source, placement))
    spread = _BACK * even / straight if straight > 0.0 else 1.0
    factor = directed + (1.0 - directed) * min(spread, 1.0)
    return Arrival(free_path_cm, directed, factor, _WORST ** (1.0 - directed))
