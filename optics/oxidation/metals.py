"""The metals that can be tinted: law and parameters from the data file, oxide, cautions."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, fields, replace
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np
from numpy.typing import ArrayLike

from .._typing import BoolArray, FloatArray
from ..errors import InputError, OutOfRangeError, UnknownNameError, suggest_nearest
from ..films.materials.catalogue import find_entry
from ..films.materials.stand_ins import StandIn, find_stand_in, stand_in_aliases, stand_in_names
from .laws import LAWS
from .oxide import OxideRatio, oxide_ratio
from .regime import Regime
from .schedule import HeatSchedule


@dataclass(frozen=True)
class AnodicLaw:
    """Oxide per volt in an anodising bath, which falls as the volts rise.

    Attributes
    ----------
    nm_per_V, at_V : tuple of float
        Constants and the volts they were found at; straight lines between, even beyond.
    sd : float
        Standard deviation of the constant between baths, electrolytes and grades [nm/V].
    """

    nm_per_V: tuple[float, ...]
    sd: float
    range_V: tuple[float, float]
    confidence: str
    source: str
    at_V: tuple[float, ...] = (0.0,)

    @property
    def words(self) -> str:
        """The constants in words."""
        said = f"{self.nm_per_V[0]:g}"
        if len(self.at_V) > 1:
            said += f" nm/V to {self.at_V[0]:g} V, falling to {self.nm_per_V[-1]:g}"
            return f"{said} ± {self.sd:g} nm/V from {self.at_V[-1]:g} V on"
        return f"{said} ± {self.sd:g} nm/V"

    def typical_nm(self, volts: ArrayLike) -> FloatArray:
        """Thickness ``V c(V)`` [nm] at each voltage."""
        each_V = np.asarray(volts, dtype=float)
        return np.asarray(each_V * np.interp(each_V, self.at_V, self.nm_per_V))

    def volts_for(self, thickness_nm: float) -> float:
        """The voltage that gives a thickness, up to twice the range."""
        grid = np.linspace(0.0, 2.0 * self.range_V[1], 4001)
        return float(np.interp(thickness_nm, self.typical_nm(grid), grid))


@dataclass(frozen=True)
class KilnSpread:
    """Spread between kilns and between heats.

    Attributes
    ----------
    per_heat, between_kilns : tuple of float
        Median and logarithmic spread of the standard deviation of ln pace.
    index_spread : float
        Relative standard deviation of the film's index.
    time_doubt : tuple of float
        For each kiln the doubt about times it does not state, as a standard deviation of ln time;
        none where empty.
    """

    per_heat: tuple[float, float]
    between_kilns: tuple[float, float]
    index_spread: float = 0.025
    time_doubt: tuple[float, ...] = ()


@dataclass(frozen=True)
class Scale:
    """Oxide too thick to be clear: from which thickness on, its CIELAB colour, and what people
    call it where that is not what such a colour is called by itself."""

    from_nm: float
    lab: tuple[float, float, float]
    called: str = ""

    @property
    def surely_nm(self) -> float:
        """A thickness that leaves room for scatter [nm]: half as much again (a judgement)."""
        return 1.5 * self.from_nm


@dataclass(frozen=True, eq=False)
class Metal:
    """One metal and how it oxidises in air (silicon: in the gas its name says).

    Attributes
    ----------
    key, name : str
        Name in the data file, and in words.
    oxide : str
        The oxide as people write it.
    films, on : tuple of str, str
        Optical names of what the oxide may be, and of the metal.
    native_nm, native_ln_sd : float
        Film before the heat [nm] and the spread of its logarithm.
    most_nm : float
        Thickness colours are followed to [nm].
    colour : bool
        False where the optical data are too poor for a colour.
    exposure_min : tuple of float
        How long the source heated [min].
    scale : Scale or None
        What thick oxide looks like, where that is no interference colour.
    hotter : str
        Key of the entry whose law goes on above this one's range; empty where there is none.
    joins_C : float or None
        Of such an entry, where it is not for the heats above a border alone: the temperature [°C]
        from which on its law acts together with the cooler one, whichever is the faster.
    beyond : str
        What to expect above the range.
    difference : str
        What to expect of an alloy for which this metal stands; empty for the metal itself.
    usual_nm : tuple of float or None
        Thickness up to which films of tempering are as likely as each other, and that at which
        they are a tenth as likely [nm]; None where any may come.
    grown : tuple of str
        Formulas of all oxides that heat grows on it; empty where nothing rests on them.
    """

    key: str
    name: str
    oxide: str
    films: tuple[str, ...]
    on: str
    native_nm: float
    native_ln_sd: float
    most_nm: float
    colour: bool
    confidence: str
    source: str
    note: str
    exposure_min: tuple[float, ...]
    cautions: tuple[str, ...]
    ratio: OxideRatio
    regimes: tuple[Regime, ...]
    spread: KilnSpread
    anodic: AnodicLaw | None
    scale: Scale | None = None
    hotter: str = ""
    beyond: str = ""
    joins_C: float | None = None
    difference: str = ""
    usual_nm: tuple[float, float] | None = None
    grown: tuple[str, ...] = ()

    @property
    def shown_nm(self) -> float:
        """Thickness up to which its colours are looked for [nm]."""
        return self.most_nm if self.scale is None else max(self.most_nm, self.scale.surely_nm)

    @property
    def range_C(self) -> tuple[float, float]:
        """Temperatures the laws were drawn from [°C]."""
        return self.regimes[0].range_C[0], self.regimes[-1].range_C[1]

    @property
    def mean(self) -> FloatArray:
        """Parameters of all regimes, shape (4 R,)."""
        return np.concatenate([regime.mean for regime in self.regimes])

    @property
    def covariance(self) -> FloatArray:
        """Their covariance, shape (4 R, 4 R); regimes are independent."""
        full = np.zeros((self.mean.size, self.mean.size))
        for i, regime in enumerate(self.regimes):
            full[4 * i : 4 * i + 4, 4 * i : 4 * i + 4] = regime.covariance
        return full

    def are_valid(self, theta: FloatArray) -> BoolArray:
        """Which parameters (N, 4 R) are possible: rates that rise with temperature."""
        each = [r.are_valid(theta[..., 4 * i : 4 * i + 4]) for i, r in enumerate(self.regimes)]
        return np.asarray(np.all(each, axis=0))

    def check(self, heat: HeatSchedule) -> None:
        """Refuse with `OutOfRangeError` a heat that melts the metal or leaves the law's range."""
        melting_C = find_entry(self.on).melting_C
        if melting_C is not None and heat.peak_C >= melting_C:
            raise OutOfRangeError(
                f"{heat.peak_C:g} °C is above the melting point of {self.name} ({melting_C:g} °C)"
            )
        low, high = self.range_C
        if heat.peak_C > high:
            raise OutOfRangeError(
                f"{heat.peak_C:g} °C is above the range the law of {self.name} was drawn from "
                f"({low:g} to {high:g} °C)" + (f"; {self.beyond}" if self.beyond else "")
            )


def find_metal(name: str) -> Metal:
    """A metal by its symbol or name; `InputError` offers the nearest where it is unknown."""
    if not isinstance(name, str):
        raise InputError(
            f"`metal` must be a name such as 'Ti', not {name!r:.40}", parameter="metal"
        )
    key = _key_of(name, _data())
    if key is not None:
        return _metal(key)
    if (other := find_stand_in(name)) is not None:
        return _take(other)
    known = [*metal_names(), *stand_in_names(), *stand_in_aliases()]
    known += [alias for one in _data().values() for alias in one["aliases"]]
    offer = suggest_nearest(name, known) or f"there are {', '.join(metal_names())}"
    raise UnknownNameError(f"no law of oxidation is shipped for {name!r:.80}; {offer}")


def _key_of(name: str, entries: dict[str, Any]) -> str | None:
    folded = name.strip().casefold()
    for key, entry in entries.items():
        if folded in (key.casefold(), *(alias.casefold() for alias in entry["aliases"])):
            return key
    return None


def _take(other: StandIn) -> Metal:
    """The metal used in place of an alloy that has no law of its own, with what to expect of it."""
    if other.refuse:
        raise OutOfRangeError(other.refuse)
    metal = find_metal(other.use)
    return replace(
        metal, name=f"{other.name} (as {metal.name})", on=other.on,
        difference=f"{other.name} is taken as {metal.name}: {other.expect}",
    )  # fmt: skip


def metal_names() -> list[str]:
    """Keys of all metals, in the order of the data file."""
    return [key for key in _data() if not key.endswith("-hot")]


def anodic_cautions() -> tuple[str, ...]:
    """The cautions of anodising."""
    cautions = _file()["cautions"]
    return (*cautions["anodic"], cautions["heat"][-1])


@cache
def _file() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("metals.toml").read_text("utf-8"))


def _data() -> dict[str, Any]:
    return {key: value for key, value in _file().items() if key != "cautions"}


@cache
def _metal(key: str) -> Metal:
    entry = _tupled(_data()[key])
    said = _file()["cautions"]
    sets = sorted(entry["cautions"], key=lambda one: one == "heat")  # the common ones end the list
    own = {field.name: entry[field.name] for field in fields(Metal) if field.name in entry}
    own |= {
        "key": key,
        "ratio": oxide_ratio(entry["metal_entry"], entry["oxide_entry"], entry["metal_atoms"]),
        "regimes": tuple(_regime(one) for one in entry["regimes"]),
        "spread": KilnSpread(entry["per_heat"], entry["between_kilns"]),
        "cautions": tuple(text for one in sets for text in said[one]),
        "scale": Scale(**_tupled(entry["scale"])) if "scale" in entry else None,
        "anodic": AnodicLaw(**_tupled(entry["anodic"])) if "anodic" in entry else None,
    }
    return Metal(**own)


def _tupled(entry: dict[str, Any]) -> dict[str, Any]:
    """The entry with its lists as tuples."""
    return {key: tuple(x) if isinstance(x, list) else x for key, x in entry.items()}


def _regime(entry: dict[str, Any]) -> Regime:
    return Regime(
        LAWS[entry["law"]],
        tuple(entry["range_C"]),
        entry["reference_C"],
        60.0 * entry["reference_min"],
        np.array(entry["mean"]),
        np.array(entry["covariance"]),
    )
