"""From a spectrum to what an eye sees: XYZ, CIELAB, sRGB and a name in words."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import ClassVar, Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .._typing import BoolArray, FloatArray
from ..errors import InputError, OutOfRangeError
from ..films.solve import solve
from ..films.spectra import Spectra
from ..films.stack import Stack
from ..result import Hidden, Result
from .conditions import ViewingConditions
from .fringe_sums import Wanted, sum_light
from .gamut import map_to_srgb
from .illuminants import resolve_illuminant, tristimulus_weights, white_xyz
from .names import colour_names, place_of_name
from .spaces import (
    check_components,
    srgb_encode,
    srgb_linear_to_oklab,
    srgb_to_hex,
    xyz_to_lab,
    xyz_to_srgb_linear,
)

Way = Literal["reflected", "transmitted"]

# A neutral coating that sends back nearly all light is a mirror; one that lets it through is clear.
_NEUTRAL_NAMES = {
    "reflected": {"white": "silver"},
    "transmitted": {"white": "clear", "silver": "grey"},
}


@dataclass(frozen=True, eq=False, repr=False)
class Colour(Result):
    """Colours under one light, as arrays whose last axis is the component.

    All of sRGB and ``name`` are worked out when first asked for: a
    table of 10⁵ colours for an inference needs only ``lab``.

    Attributes
    ----------
    xyz : ndarray, shape (..., 3)
        Tristimulus values, Y = 100 for the perfect mirror or clear pane.
    lab : ndarray, shape (..., 3)
        CIELAB against the white of the same light.
    light, observer, of
        As given to `to_colour`; the light by its CIE name.
    """

    also: ClassVar[tuple[str, ...]] = ("Y", "srgb_hex", "in_gamut", "name")

    xyz: FloatArray
    lab: FloatArray
    light: Hidden[str]
    observer: Hidden[int]
    of: Hidden[Way]

    def __getitem__(self, position: int | slice | tuple[int | slice, ...]) -> Colour:
        """The colours at a position of the leading axes."""
        return replace(self, xyz=self.xyz[position], lab=self.lab[position])

    @property
    def Y(self) -> FloatArray | float:
        """Luminance factor, 100 for the perfect mirror, shape (...), or one float."""
        luminance: FloatArray = self.xyz[..., 1]
        return luminance if luminance.ndim else float(luminance)

    @cached_property
    def srgb_linear(self) -> FloatArray:
        """Linear sRGB, adapted from the light to D65; leaves 0..1 outside the gamut."""
        return xyz_to_srgb_linear(self.xyz, white_xyz(self.light, self.observer))

    @cached_property
    def srgb_unmapped(self) -> FloatArray:
        """The same encoded, shape (..., 3)."""
        return srgb_encode(self.srgb_linear)

    @cached_property
    def _mapping(self) -> tuple[FloatArray, BoolArray]:
        return map_to_srgb(self.srgb_linear)

    @property
    def srgb(self) -> FloatArray:
        """Encoded sRGB in 0..1, gamut-mapped as CSS Color 4 says, shape (..., 3)."""
        return self._mapping[0]

    @property
    def in_gamut(self) -> BoolArray | bool:
        """Whether sRGB can show the colour as it is, shape (...), or one bool for one colour."""
        inside = self._mapping[1]
        return inside if inside.ndim else bool(inside)

    @cached_property
    def srgb_hex(self) -> NDArray[np.str_] | str:
        """``#rrggbb`` of ``srgb``, shape (...), or one text for one colour."""
        text = srgb_to_hex(self.srgb)
        return text if text.ndim else str(text)

    @cached_property
    def name(self) -> NDArray[np.str_] | str:
        """Name in words, shape (...), or one text for one colour."""
        names = _name_linear(self.srgb_linear, of=self.of)
        return names if names.ndim else str(names)


def to_colour(
    spectra: Spectra | Stack | str, light: str = "D65", observer: int = 2, *, of: Way = "reflected"
) -> Colour:
    """What a coating looks like, as colours of shape (..., 3).

    Parameters
    ----------
    spectra : Spectra, Stack or str
        Power fractions over wavelength, shape (..., W); or a stack or its notation, looked at
        straight on.
    light : str
        A name of `illuminants.illuminant_names`.
    observer : int
        2 or 10 [degrees of the field].
    of : {"reflected", "transmitted"}
        Which light is looked at.

    Raises
    ------
    InputError
        If ``of``, light or observer is not known, a fraction is NaN or leaves 0..1, or the
        wavelengths do not carry a colour.

    Notes
    -----
    The eye is taken to be fully adapted to the light: CIELAB is relative to its white, and
    sRGB is brought from that white to D65 by the Bradford transform. For the 10 degree observer
    sRGB is what its XYZ would show, though sRGB is defined for 2 degrees. Where the fringes of a
    thick layer are finer than the wavelengths of spectra from `solve`, the colour is summed on
    as fine a grid as they need (:mod:`~oxhue.optics.colour.fringe_sums`).

    Examples
    --------
    >>> import numpy as np
    >>> wavelength_nm = np.arange(380.0, 781.0, 5.0)
    >>> mirror = Spectra.from_arrays(wavelength_nm, np.ones(81))
    >>> to_colour(mirror, light="A").srgb_hex
    '#ffffff'
    >>> to_colour("TiO2 20nm / Ti").name
    'gold'
    """
    if not isinstance(spectra, Spectra):
        spectra = solve(spectra)
    wanted: Wanted = "R" if _check_way(of) == "reflected" else "T"
    (xyz,) = sum_light(spectra, [wanted], light=light, observer=observer)
    return xyz_to_colour(_check_luminance(xyz), light, observer, of=of)


def xyz_to_colour(
    xyz: ArrayLike, light: str = "D65", observer: int = 2, *, of: Way = "reflected"
) -> Colour:
    """What tristimulus values (..., 3), taken under a light, look like; as `to_colour`."""
    tristimulus = check_components(xyz, "xyz")
    white = white_xyz(light, observer)
    return Colour(
        xyz=tristimulus,
        lab=xyz_to_lab(tristimulus, white),
        light=resolve_illuminant(light),
        observer=observer,
        of=_check_way(of),
    )


def hex_and_name(
    xyz: FloatArray, viewing: ViewingConditions
) -> tuple[NDArray[np.str_], NDArray[np.str_]]:
    """sRGB hex and name in words (...) of tristimulus values (..., 3), without the rest of a
    `Colour`."""
    linear = xyz_to_srgb_linear(xyz, white_xyz(viewing.light, viewing.observer))
    return srgb_to_hex(map_to_srgb(linear)[0]), _name_linear(linear)


def _name_linear(linear_srgb: FloatArray, *, of: Way = "reflected") -> NDArray[np.str_]:
    """Names in words (...) of coatings by their linear sRGB (..., 3)."""
    return np.asarray(_coating_names(of)[place_of_name(srgb_linear_to_oklab(linear_srgb))])


@cache
def _coating_names(of: Way) -> NDArray[np.str_]:
    """What a coating of each of `colour_names` is called."""
    return np.array([_NEUTRAL_NAMES[of].get(name, name) for name in colour_names()])


def _check_way(of: Way) -> Way:
    if of not in _NEUTRAL_NAMES:
        raise InputError(f"of must be 'reflected' or 'transmitted', not {of!r}")
    return of


def spectra_to_xyz(
    fraction: ArrayLike, wavelength_nm: ArrayLike, light: str = "D65", *, observer: int = 2
) -> FloatArray:
    """Tristimulus values (..., 3) of reflectances or transmittances (..., W), Y = 100 for 1.

    The wavelengths (W,) are as in `illuminants.tristimulus_weights`. `InputError` where a fraction
    is no number, the axes do not fit, or Y leaves 0..100, as where percent are given.
    """
    weights = tristimulus_weights(wavelength_nm, light, observer)
    spectra = np.asarray(fraction, dtype=np.float64)
    if spectra.ndim == 0 or spectra.shape[-1] != len(weights):
        raise InputError(
            f"fraction must have one value for each of the {len(weights)} wavelengths on its "
            f"last axis; its shape is {spectra.shape}"
        )
    with np.errstate(invalid="ignore"):  # inf times 0; what comes of it is refused
        return _check_luminance(spectra @ weights)


def _check_luminance(xyz: FloatArray) -> FloatArray:
    """The same, if they are those of fractions."""
    if not np.all(np.isfinite(xyz)):
        raise InputError("fraction must be finite numbers; some are NaN or infinite")
    luminance = xyz[..., 1]
    if luminance.min(initial=0.0) < -1e-6 or luminance.max(initial=0.0) > 100.0 + 1e-6:
        raise OutOfRangeError(
            "fraction must lie between 0 and 1 (not percent); its luminous mean reaches "
            f"{luminance.flat[np.argmax(np.abs(luminance - 50.0))] / 100.0:g}"
        )
    return xyz
