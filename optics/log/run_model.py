"""One run of a jar as numbers: metal that leaves the source, what reaches each piece, gas on it.

What a run gives depends on the jar's unknowns alone, so all that is slow, the heat of a wire and
the balance of the gas, is tabulated once for each run and read from the table afterwards.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache, partial
from typing import Any

import numpy as np

from .._typing import FloatArray
from ..deposition.arrival import arrival
from ..deposition.gases import AVOGADRO, mean_free_path_cm, oxide_gate, read_data, uptake_of
from ..deposition.geometry import Coil, Piece, Placement, Source
from ..deposition.hot_wire import Wire, WireCurve, wire_curve
from ..deposition.jar import Jar
from ..deposition.setup import Setup, charge_mass_g
from ..deposition.source_plan import FILAMENT
from ..deposition.sputter import Discharge, sputtered_g_s
from ..deposition.wire import wire_materials
from ..errors import InputError
from ..films.materials.catalogue import MaterialEntry, find_entry
from ..numerics.lattice import interpolate_lattice
from ..numerics.normal_law import normal_cdf
from ..units import parse_quantity
from .records import LoggedPiece, LoggedRun
from .run_gas import (
    GAS_AXES,
    READING_DOUBT,
    USUAL_PUMPED,
    base_table,
    flush_left,
    gas_table,
    is_known_by_pressure,
    jar_of,
    pressure_read,
    working_of,
)

UNKNOWN_WIRE_MM = 0.5
USUAL_LENGTH_MM = 100.0
USUAL_DISTANCE = "5cm"
_LN_SCALE = np.linspace(-1.2, 1.2, 241)  # of the current of a wire
_NEARLY = 0.98  # of the life of a wire; what melts is judged by that alone


@dataclass(frozen=True)
class BeforeRun:
    """What was done to the gas before a run.

    Attributes
    ----------
    ln_pumped : float
        Logarithm of the time since the pump was started over the usual one.
    flush_left : float
        Share of the gas that a flush left of what does not come back; 1 without one.
    held : bool
        Whether the gas is known by the pressure that the pump holds, in place of a leak.
    """

    ln_pumped: float = 0.0
    flush_left: float = 1.0
    held: bool = False


AS_USUAL = BeforeRun()


@dataclass(frozen=True, eq=False)
class RunModel:
    """What a run does, against the jar's unknowns.

    Attributes
    ----------
    run : int
    metal : str
    source : str
    ln_mass_g_s : ndarray, shape (241,)
        Logarithm of the metal that leaves, on a grid of the logarithm of the current's scale; the
        same all along where no wire is heated.
    ln_melting : float
        Logarithm of the scale at which the wire melts; infinite without one.
    thinning_per_g : float
        Relative loss of a wire's diameter for each gram that leaves it.
    seconds : float
    ln_nm_per_g : dict
        For each piece, the logarithm of the metal's thickness for each gram that leaves.
    ln_atoms_per_nm : float
        Logarithm of atoms on a square centimetre for each nanometre.
    read_gas_table : callable
        Gives an array of shape (2, 13, 7, 5, 3), worked out when it is first asked for and kept:
        logarithms of the oxygen offered over that of the full oxide, and of the pressure of all
        gases [mbar], against the logarithms of the flux and of the factors of leak, outgassing
        and sticking, on even grids.
    ln_reading, ln_base : float or None
        Logarithms of readings that tell of the leak [mbar], in the run and before it.
    melted : bool or None
        Whether the wire melted; None where there is none.
    fresh_wire : bool
        Whether a new wire was put in.
    gate_holds : float
        Chance that the metal takes no bulk oxide at all.
    places : dict
        For each piece, where it lay in words.
    before : BeforeRun
        What was done to the gas before it.
    coiled : bool
        Whether the wire is wound to a coil.
    read_base_table : callable
        Gives the logarithm of the pressure before the run, shape (7, 5), against the logarithms of
        the factors of leak and outgassing.
    """

    run: int
    metal: str
    source: str
    ln_mass_g_s: FloatArray
    ln_melting: float
    thinning_per_g: float
    seconds: float
    ln_nm_per_g: dict[str, float]
    ln_atoms_per_nm: float
    read_gas_table: Callable[[], FloatArray]
    ln_reading: float | None
    melted: bool | None
    fresh_wire: bool
    gate_holds: float
    places: dict[str, str]
    before: BeforeRun = AS_USUAL
    coiled: bool = False
    ln_base: float | None = None
    read_base_table: Callable[[], FloatArray] | None = None

    @property
    def tells_of_gas(self) -> bool:
        """Whether a reading of it tells of the leak."""
        return self.ln_reading is not None or self.ln_base is not None

    @property
    def key(self) -> str:
        """Kind and metal of the source, which share one factor of the rate."""
        return f"{self.source} {self.metal}"

    @cached_property
    def _steepness(self) -> FloatArray:
        return np.gradient(self.ln_mass_g_s, _LN_SCALE)

    @property
    def ln_mass_grid(self) -> FloatArray:
        """Logarithms of the current's scale that ``ln_mass_g_s`` stands at, shape (241,)."""
        return _LN_SCALE

    def leaving(self, ln_scale: FloatArray, ln_rate: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Metal that leaves in the whole run, and how much of the wire's life that is, both (N,).

        Parameters
        ----------
        ln_scale, ln_rate : ndarray, shape (N,)
            Logarithms of the scale of the current at the start, and of the factor of the rate.

        Returns
        -------
        ln_mass : ndarray
            Logarithm of the mass [g].
        used : ndarray
            1 where the wire burns out at the end of the run; 0 without one.

        Notes
        -----
        A wire that loses mass gets hotter at the same current: with κ the thinning per gram and
        ``dm/dt ~ I^s``, ``I ~ d^(-3/2)``, it gives ``-ln(1 - u)/(1.5 s κ)`` grams, u = 1.5 s κ m t
        with m the rate at the start, and burns out at u = 1.
        """
        start = np.interp(ln_scale, _LN_SCALE, self.ln_mass_g_s) + ln_rate + math.log(self.seconds)
        if self.thinning_per_g == 0.0:
            return start, np.zeros(len(start))
        steep = np.interp(ln_scale, _LN_SCALE, self._steepness)
        per_gram = 1.5 * np.maximum(steep, 1.0) * self.thinning_per_g
        used = per_gram * np.exp(start)
        grown = -np.log1p(-np.minimum(used, _NEARLY)) / np.maximum(np.minimum(used, _NEARLY), 1e-12)
        return start + np.log(np.maximum(grown, 1.0)), used

    def offer(self, ln_nm: FloatArray, ln_factors: FloatArray) -> FloatArray:
        """Logarithm of the oxygen offered over that of the full oxide, shape (N,).

        Parameters
        ----------
        ln_nm : ndarray, shape (N,)
            Logarithm of the metal's thickness.
        ln_factors : ndarray, shape (N, 3)
            Logarithms of the factors of leak, outgassing and sticking.
        """
        return self._look_up(0, ln_nm, ln_factors)

    def _look_up(self, table: int, ln_nm: FloatArray, ln_factors: FloatArray) -> FloatArray:
        ln_flux = ln_nm + self.ln_atoms_per_nm - math.log(self.seconds)
        return _interpolate(
            self.read_gas_table()[table], GAS_AXES, np.column_stack([ln_flux, ln_factors])
        )

    def state_chances(self, ln_nm: FloatArray, ln_factors: FloatArray) -> FloatArray:
        """Probability of metal, grey and oxide, shape (3, N)."""
        limits, offer = read_data()["limits"], self.offer(ln_nm, ln_factors)
        edges = np.log([[limits[name]] for name in ("metal", "oxide")])
        metal, below_oxide = normal_cdf((edges - offer) / limits["limit_doubt"])
        holds = self.gate_holds
        metal = holds + (1.0 - holds) * metal
        oxide = (1.0 - holds) * (1.0 - below_oxide)
        return np.stack([metal, np.maximum(1.0 - metal - oxide, 0.0), oxide])

    def reading_log_likelihood(
        self, ln_nm: FloatArray, ln_factors: FloatArray, ln_rest: FloatArray
    ) -> FloatArray:
        """Log likelihood of what the gauge read before the run and in it, shape (N,).

        Parameters
        ----------
        ln_nm : ndarray, shape (N,)
        ln_factors : ndarray, shape (N, 3)
            As for :meth:`offer`.
        ln_rest : ndarray, shape (N,)
            Logarithm of what the gauge shows that no leak makes [mbar].
        """
        value = np.zeros(len(ln_nm))
        if self.ln_reading is not None:
            shown = np.logaddexp(self._look_up(1, ln_nm, ln_factors), ln_rest)
            value -= 0.5 * ((self.ln_reading - shown) / READING_DOUBT) ** 2
        if self.ln_base is not None:
            value += self.base_log_likelihood(ln_factors, ln_rest)
        return value

    def base_log_likelihood(self, ln_factors: FloatArray, ln_rest: FloatArray) -> FloatArray:
        """Log likelihood of what the gauge read before the run, shape (N,); as above."""
        assert self.ln_base is not None
        shown = self.ln_base_shown(ln_factors, ln_rest)
        return np.asarray(-0.5 * ((self.ln_base - shown) / READING_DOUBT) ** 2)

    def ln_base_shown(self, ln_factors: FloatArray, ln_rest: FloatArray) -> FloatArray:
        """Logarithm of what a gauge shows before the run [mbar], without its doubt, shape (N,)."""
        assert self.read_base_table is not None
        base = _interpolate(self.read_base_table(), GAS_AXES[1:3], ln_factors[:, :2])
        return np.logaddexp(base, ln_rest)


def _interpolate(table: FloatArray, axes: Sequence[FloatArray], points: FloatArray) -> FloatArray:
    """A table on even axes at points, shape (N, axes), held at its ends."""
    steps = [
        (line - axis[0]) / (axis[1] - axis[0]) for line, axis in zip(points.T, axes, strict=True)
    ]
    return interpolate_lattice(table, np.stack(steps, axis=-1))


_NEEDED = (
    ("metal", "what was deposited, nor do the other runs agree on it; name it with `metal`"),
    ("time", "how long it ran"),
)


def model_run(run: LoggedRun, facts: Mapping[str, Any]) -> RunModel:
    """A recorded run as numbers.

    Parameters
    ----------
    run : LoggedRun
    facts : mapping
        Of its setup: the jar as described, where it is.

    Raises
    ------
    InputError
        If it does not say what was deposited, for how long, or how fast the source gave it.
    """
    done = run.done
    for name, why in _NEEDED:
        if name not in done:
            raise InputError(f"run {run.run} does not say {why}", parameter=name)
    entry = _find_metal(done["metal"])
    seconds = parse_quantity(done["time"], "time_s", "`time`")
    if not seconds > 0.0:
        raise InputError(f"run {run.run} took no time", parameter="time")
    pieces = [place_piece(one, facts) for one in run.pieces or (LoggedPiece("piece", {}),)]
    free_cm = _free_path_cm(done)
    lengths = {one.name: _ln_nm_per_g(done, one, entry, free_cm) for one in pieces}
    middle = math.log(sum(math.exp(value) for value in lengths.values()) / len(lengths))
    ln_mass, ln_melting, thinning = _source(done, entry, run, middle)
    jar, working = jar_of(done, facts), working_of(done, facts)
    before_s = parse_quantity(done.get("pumped", USUAL_PUMPED), "time_s", "`pumped`")
    pumped_s = before_s + 0.5 * seconds
    source = done.get("source", "wire")
    gate, limits = oxide_gate(entry.name), read_data()["limits"]
    opens = 1.0
    if gate is not None:
        opens = gate.plasma if source == "sputter" else limits["gate_vapour"]
    return RunModel(
        run.run, entry.name, source, ln_mass, ln_melting, thinning, seconds, lengths,
        math.log(_atoms_per_nm(entry)),
        partial(
            gas_table, jar, entry.name, working,
            pumped_s=round(pumped_s), ln_nm_per_g=round(middle, 3),
        ),
        pressure_read(done, jar, name="gauge_reading"),
        melted=done.get("melted") == "yes" if math.isfinite(ln_melting) else None,
        fresh_wire=done.get("new_wire") == "yes",
        gate_holds=1.0 - opens,
        places={one.name: _place_words(done, one) for one in pieces},
        before=_before(done, jar, pumped_s),
        coiled=source == "wire" and "coil" in done,
        ln_base=pressure_read(done, jar, name="base_pressure"),
        read_base_table=partial(base_table, jar, round(before_s)),
    )  # fmt: skip


def _find_metal(name: str) -> MaterialEntry:
    """What was deposited, refused where neither its mass nor the gas it takes can be computed."""
    entry = find_entry(name)
    if not (entry.density_g_cm3 and entry.molar_mass_g_mol):
        raise InputError(f"the density of {entry.name} is not known", parameter="metal")
    uptake_of(entry.name)
    return entry


def _atoms_per_nm(entry: MaterialEntry) -> float:
    """Atoms on a square centimetre for each nanometre of metal."""
    density, molar = entry.density_g_cm3 or math.nan, entry.molar_mass_g_mol or math.nan
    return 1e-7 * density * AVOGADRO / molar


def _before(done: Mapping[str, str], jar: Jar, pumped_s: float) -> BeforeRun:
    usual_s = parse_quantity(USUAL_PUMPED, "time_s", "`pumped`")
    return BeforeRun(math.log(pumped_s / usual_s), flush_left(done, jar), is_known_by_pressure(jar))


def _source(
    done: Mapping[str, str], entry: MaterialEntry, run: LoggedRun, ln_nm_per_g: float
) -> tuple[FloatArray, float, float]:
    """Mass that leaves against the scale of the current, scale of melting, thinning per gram."""
    flat = np.zeros(_LN_SCALE.size)
    if "rate" in done:  # what was measured on the piece
        rate = parse_quantity(done["rate"], "rate_nm_s", "`rate`")
        return flat + math.log(rate) - ln_nm_per_g, math.inf, 0.0
    if "charge" in done:  # wholly evaporated by the end of the run
        grams = parse_quantity(done["charge"], "mass_g", "`charge`")
        if not grams > 0.0:
            raise InputError(f"the charge of run {run.run} must be above 0 g", parameter="charge")
        seconds = parse_quantity(done["time"], "time_s", "`time`")
        return flat + math.log(grams / seconds), math.inf, 0.0
    kind = done.get("source", "wire")
    if "current" in done and kind == "wire":
        return _wire_source(done, entry)
    if "current" in done and kind == "sputter" and "volts" in done:
        fed = Discharge(
            parse_quantity(done["volts"], "voltage_V", "`volts`"),
            parse_quantity(done["current"], "current_A", "`current`"),
        )
        mass = sputtered_g_s(entry.name, entry.molar_mass_g_mol or math.nan, fed)
        return flat + math.log(mass), math.inf, 0.0
    raise InputError(
        f"run {run.run} does not say how fast the source gave metal: the current of a wire, volts "
        f"and current of a sputter head, a charge that was used up, or a measured rate",
        parameter="rate",
    )


def wire_of(done: Mapping[str, str], metal: str) -> Wire:
    """The wire of a run; what is not said is taken as usual, and is in doubt."""

    def length(name: str, usual: float) -> float:
        return parse_quantity(done[name], "length_mm", f"`{name}`") if name in done else usual

    coil = None
    if "coil" in done:
        sizes = [parse_quantity(x.strip(), "length_mm", "`coil`") for x in done["coil"].split(",")]
        coil = Coil(*sizes)
    own = metal if metal in wire_materials() else FILAMENT  # others are carried
    return Wire(
        done.get("wire", own),
        length("wire_diameter", UNKNOWN_WIRE_MM),
        length("wire_length", USUAL_LENGTH_MM),
        coil,
    )


def _wire_source(done: Mapping[str, str], entry: MaterialEntry) -> tuple[FloatArray, float, float]:
    wire = wire_of(done, entry.name)
    if wire.metal != entry.name:
        raise InputError(
            f"the {wire.metal} wire carries {entry.name}, whose rate its current does not tell; "
            f"record the rate",
            parameter="rate",
        )
    current = parse_quantity(done["current"], "current_A", "`current`")
    curve = _curve_of(wire)
    if curve.vapour_g_s is None:
        raise InputError(f"no vapour pressure is held for {entry.name}", parameter="rate")
    ln_current = np.log(current) + _LN_SCALE
    known = np.log(curve.current_A)
    ln_mass = np.interp(ln_current, known, np.log(np.maximum(curve.vapour_g_s, 1e-300)))
    steep = np.gradient(np.log(np.maximum(curve.vapour_g_s, 1e-300)), known)[0]
    ln_mass += np.minimum(ln_current - known[0], 0.0) * steep
    grams = (
        (entry.density_g_cm3 or math.nan) * math.pi / 4.0
        * (0.1 * wire.diameter_mm) ** 2 * 0.1 * wire.length_mm
    )  # fmt: skip
    # mass goes as d², so dd/d = dm / 2m
    return ln_mass, math.log(curve.melting_A / current), 0.5 / grams


@lru_cache(maxsize=64)
def _curve_of(wire: Wire) -> WireCurve:
    """Kept, since the runs of a jar share their wire."""
    return wire_curve(wire)


def _free_path_cm(done: Mapping[str, str]) -> float:
    name = "working_pressure" if "working_pressure" in done else "gauge_reading"
    if name not in done:
        return math.inf
    pressure = parse_quantity(done[name], "pressure_mbar", f"`{name}`")
    return mean_free_path_cm({"Ar": max(pressure, 1e-12)})


def _ln_nm_per_g(
    done: Mapping[str, str], piece: LoggedPiece, entry: MaterialEntry, free_cm: float
) -> float:
    """Logarithm of the thickness of metal on a piece for each gram that leaves the source."""
    place = _placement(done, piece)
    kind: Any = done.get("source", "wire")
    source = Source(kind)
    if kind == "wire":
        wire = wire_of(done, entry.name)
        length = wire.length_mm if wire.coil is None else wire.coil.length_mm(wire.length_mm)
        source = Source(kind, length_mm=length)
    grams = charge_mass_g(1.0, entry.density_g_cm3 or math.nan, Setup(source, place, Piece(50, 50)))
    share = 1.0
    if math.isfinite(free_cm):
        molar = entry.molar_mass_g_mol or math.nan
        share = arrival(source, place, free_cm, molar_mass=molar).factor
    return math.log(share / grams)


def place_piece(piece: LoggedPiece, facts: Mapping[str, Any]) -> LoggedPiece:
    """A piece with where it lay in lengths, from the place of its setup that it names.

    Raises
    ------
    InputError
        If the setup has no such place.
    """
    name = piece.facts.get("place")
    if name is None:
        return piece
    places: Mapping[str, Mapping[str, str]] = facts.get("places", {})
    if name not in places:
        there = f"it has {', '.join(places)}" if places else "it names none"
        raise InputError(f"the setup has no place {name!r:.40}; {there}", parameter="place")
    return replace(piece, facts={**places[name], **piece.facts})


def _placement(done: Mapping[str, str], piece: LoggedPiece) -> Placement:
    distance = piece.facts.get("distance", done.get("distance", USUAL_DISTANCE))
    return Placement(
        parse_quantity(distance, "length_mm", "`distance`"),
        parse_quantity(piece.facts.get("offset", "0mm"), "length_mm", "`offset`"),
        parse_quantity(piece.facts.get("tilt", "0"), "angle_deg", "`tilt`"),
    )


def _place_words(done: Mapping[str, str], piece: LoggedPiece) -> str:
    """Where a piece lay: the name of its place, or its lengths."""
    if "place" in piece.facts:
        return piece.facts["place"]
    place = _placement(done, piece)
    off = f", {place.offset_mm:g} mm off" if place.offset_mm else ""
    tilted = f", tilted {place.tilt_deg:g}°" if place.tilt_deg else ""
    return f"{place.distance_mm:g} mm{off}{tilted}"
