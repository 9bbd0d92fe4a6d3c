"""Media whose index is a formula of a few numbers, such as a paper or a data sheet gives them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from ..._typing import ComplexArray, FloatArray
from ...errors import InputError, OutOfRangeError
from ..engine.check import as_numbers
from .dispersion import cauchy, drude_lorentz

_VISIBLE_NM = (380.0, 780.0)


@dataclass(frozen=True, kw_only=True)
class _NamedFormula:
    """What formulas share: a name, and the span they were fitted to."""

    name: str
    range_nm: tuple[float, float] = _VISIBLE_NM

    def __post_init__(self) -> None:
        if not isinstance(self.name, str) or not self.name.strip():
            raise InputError(f"`name` must be text, not {self.name!r:.40}", parameter="name")
        span = as_numbers(self.range_nm, "range_nm")
        if span.shape != (2,) or not 0.0 < span[0] < span[1] < np.inf:
            raise InputError(
                f"`range_nm` must be two wavelengths, the shorter first, not {self.range_nm!r:.60}",
                parameter="range_nm",
            )
        ends = self.nk(np.linspace(float(span[0]), float(span[1]), 401))
        if not (np.isfinite(ends).all() and (ends.real > 0.0).all()):
            raise OutOfRangeError(
                f"the formula of {self.name} gives no index above 0 everywhere from {span[0]:g} to "
                f"{span[1]:g} nm; narrow `range_nm` or check its numbers",
                parameter="range_nm",
            )

    @property
    def label(self) -> str:
        """The name given."""
        return self.name

    @property
    def kind(self) -> str:
        """Always ``formula``."""
        return "formula"

    def nk(self, wavelength_nm: ArrayLike) -> ComplexArray:
        """Complex index n + ik at wavelengths [nm] of any shape.

        Raises
        ------
        OutOfRangeError
            If a wavelength is NaN or outside ``range_nm``.
        """
        wavelength = as_numbers(wavelength_nm, "wavelength_nm")
        low, high = self.range_nm
        bad = ~((wavelength >= low) & (wavelength <= high))
        if bad.any():
            raise OutOfRangeError(
                f"wavelength_nm must lie between {low:g} and {high:g} nm for {self.name}, not "
                f"{wavelength[bad].flat[0]:g}"
            )
        return self._index(wavelength)

    def _index(self, wavelength_nm: FloatArray) -> ComplexArray:
        raise NotImplementedError


@dataclass(frozen=True, kw_only=True)
class CauchyMedium(_NamedFormula):
    """A clear film: ``n = A + B/λ² + C/λ⁴``, λ in micrometres.

    Parameters
    ----------
    name : str
    a, b_um2, c_um4 : float
        A [-], B [µm²], C [µm⁴].
    range_nm : tuple of float
        Where the formula holds [nm]; the visible by default.

    Raises
    ------
    InputError, OutOfRangeError
        If a value is no number, or the index is not above 0 over the range.

    Examples
    --------
    >>> CauchyMedium(name="crown", a=1.5046, b_um2=0.0042).nk(589.3).real.round(4)
    np.float64(1.5167)
    """

    a: float
    b_um2: float = 0.0
    c_um4: float = 0.0

    def _index(self, wavelength_nm: FloatArray) -> ComplexArray:
        a, b, c = (float(as_numbers(getattr(self, it), it)) for it in ("a", "b_um2", "c_um4"))
        return cauchy(wavelength_nm, a, b, c_um4=c)[0]


@dataclass(frozen=True, kw_only=True)
class SellmeierMedium(_NamedFormula):
    """A clear glass or crystal: ``n² = 1 + Σ B λ²/(λ² - L²)``, λ and L in micrometres.

    Parameters
    ----------
    name : str
    strengths : sequence of float
        B [-] of each resonance.
    resonances_um : sequence of float
        L [µm], not squared.
    range_nm : tuple of float
        Where the formula holds [nm]; the visible by default.

    Raises
    ------
    InputError, OutOfRangeError
        If there are not as many strengths as resonances, a value is no number, or n² is not
        above 0 over the range.

    Examples
    --------
    Fused silica, I. H. Malitson, J. Opt. Soc. Am. 55, 1205 (1965), doi:10.1364/JOSA.55.001205:

    >>> silica = SellmeierMedium(
    ...     name="silica",
    ...     strengths=(0.6961663, 0.4079426, 0.8974794),
    ...     resonances_um=(0.0684043, 0.1162414, 9.896161),
    ... )
    >>> silica.nk([486.133, 656.272]).real.round(5)
    array([1.46313, 1.45637])
    """

    strengths: Sequence[float]
    resonances_um: Sequence[float]

    def _index(self, wavelength_nm: FloatArray) -> ComplexArray:
        B = as_numbers(self.strengths, "strengths")
        L = as_numbers(self.resonances_um, "resonances_um")
        if B.ndim != 1 or B.shape != L.shape:
            raise InputError(
                f"`strengths` has {B.size} values and `resonances_um` {L.size}; each resonance "
                f"needs one of both",
                parameter="strengths",
            )
        square = np.square(wavelength_nm / 1000.0)[..., None]
        with np.errstate(divide="ignore", invalid="ignore"):
            eps = 1.0 + (B * square / (square - L**2)).sum(axis=-1)  # 1 + Σ B λ²/(λ² - L²)
            return np.asarray(np.sqrt(eps), dtype=complex)


@dataclass(frozen=True, kw_only=True)
class LorentzMedium(_NamedFormula):
    """A metal or an absorbing film: free electrons (Drude) and bound ones (Lorentz).

    ``ε = ε∞ - Ep²/(E² + iΓE) + Σ f E0²/(E0² - E² - iΓ0 E)``.

    Parameters
    ----------
    name : str
    eps_inf : float
    plasma_eV, loss_eV : float
        Of the free electrons [eV]; a plasma energy of 0 means none.
    oscillators : sequence of (float, float, float)
        Strength f [-], energy E0 [eV] and width Γ0 [eV] of each resonance.
    range_nm : tuple of float
        Where the formula holds [nm]; the visible by default.

    Raises
    ------
    InputError, OutOfRangeError
        If a value is no number or negative, or the index is not above 0 over the range.

    References
    ----------
    F. Wooten, Optical Properties of Solids (Academic Press, 1972), chapter 3.

    Examples
    --------
    >>> metal = LorentzMedium(name="metal", eps_inf=1.0, plasma_eV=12.0, loss_eV=0.5)
    >>> metal.nk(550.0).round(2)
    np.complex128(0.58+5.13j)
    """

    eps_inf: float = 1.0
    plasma_eV: float = 0.0
    loss_eV: float = 0.0
    oscillators: Sequence[tuple[float, float, float]] = ()

    def _index(self, wavelength_nm: FloatArray) -> ComplexArray:
        bound = as_numbers(self.oscillators, "oscillators")
        if bound.size and (bound.ndim != 2 or bound.shape[1] != 3):
            raise InputError(
                "`oscillators` must be triples of strength, energy and width",
                parameter="oscillators",
            )
        free = as_numbers((self.eps_inf, self.plasma_eV, self.loss_eV), "eps_inf")
        if not (np.all(free >= 0.0) and np.all(bound >= 0.0)):
            raise OutOfRangeError(
                f"strengths, energies and widths of {self.name} must be 0 or above"
            )
        eps_inf, plasma_ev, loss_ev = free.tolist()
        rest = bound.ravel().tolist()
        return drude_lorentz(wavelength_nm, eps_inf, plasma_ev, loss_ev=loss_ev, oscillators=rest)[
            0
        ]
