"""Permittivity of a mixture of two materials from theirs: effective-medium rules.

All rules take complex relative permittivities with non-negative imaginary part and the volume
fraction of the second material; everything broadcasts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike

from ..._typing import ComplexArray, FloatArray
from ...errors import OutOfRangeError, UnknownNameError
from .medium import Medium
from .nk_table import STANDS_FOR, Material

Rule = Callable[[ArrayLike, ArrayLike, ArrayLike], ComplexArray]


def bruggeman(eps_a: ArrayLike, eps_b: ArrayLike, fraction_b: ArrayLike) -> ComplexArray:
    """Symmetric mixture of spheres: neither material is the host.

    Parameters
    ----------
    eps_a, eps_b : array_like of complex, shape (...)
        Relative permittivities, imaginary part >= 0.
    fraction_b : array_like, shape (...)
        Volume fraction of the second material, 0 to 1.

    Returns
    -------
    ndarray of complex, shape (...)

    Notes
    -----
    Solves ``Σ f_i (ε_i - ε)/(ε_i + 2ε) = 0``. With ``z = ε/√(ε_a ε_b)`` the two roots multiply
    to -1/2, so exactly one has a positive real part; the mixture lies in the cone spanned by
    its parts, less than 90° from their geometric mean, and therefore is that one.

    References
    ----------
    D. A. G. Bruggeman, Ann. Phys. 416, 636 (1935), doi:10.1002/andp.19354160705.
    """
    a, b, f = _check_mixture(eps_a, eps_b, fraction_b)
    root_a, root_b = np.sqrt(a), np.sqrt(b)
    ratio = root_a / root_b
    up, down = (2.0 - 3.0 * f) * ratio, (3.0 * f - 1.0) / ratio
    half = (up + down) / 4.0
    # half² + 1/2, in a form that keeps its digits where both roots are nearly one.
    swing = np.sqrt(((up - down) / 4.0) ** 2 + 2.25 * f * (1.0 - f))
    plus, minus = half + swing, half - swing
    z = np.where(plus.real > minus.real, plus, minus)
    tied = plus.real == minus.real
    if np.any(tied):
        # A loss-free metal in a loss-free dielectric can leave both roots imaginary; the first
        # trace of loss turns ratio by -i ratio dφ, and the root that gains a real part is the one:
        # Re((up - down)/ratio plus swing*) > 0, of which the phase tells the sign.
        turn = np.angle(up - down) - np.angle(ratio) + np.angle(plus) - np.angle(swing)
        z = np.where(tied & (np.cos(turn) > 0.0), plus, z)
    return _make_passive(z * root_a * root_b)


def maxwell_garnett(eps_a: ArrayLike, eps_b: ArrayLike, fraction_b: ArrayLike) -> ComplexArray:
    """Separate small spheres of the second material in a host of the first.

    Shapes and range as :func:`bruggeman`. ``ε = ε_a (1 + 2fβ)/(1 - fβ)`` with
    ``β = (ε_b - ε_a)/(ε_b + 2ε_a)``.

    References
    ----------
    J. C. Maxwell Garnett, Phil. Trans. R. Soc. A 203, 385 (1904), doi:10.1098/rsta.1904.0024.
    """
    a, b, f = _check_mixture(eps_a, eps_b, fraction_b)
    contrast = f * (b - a) / (b + 2.0 * a)
    return _make_passive(a * (1.0 + 2.0 * contrast) / (1.0 - contrast))


def looyenga(eps_a: ArrayLike, eps_b: ArrayLike, fraction_b: ArrayLike) -> ComplexArray:
    """Mixture whose cube root of permittivity is the volume mean of the cube roots.

    Shapes and range as :func:`bruggeman`; good for powders and porous layers of any grain shape.

    References
    ----------
    H. Looyenga, Physica 31, 401 (1965), doi:10.1016/0031-8914(65)90045-5.
    """
    a, b, f = _check_mixture(eps_a, eps_b, fraction_b)
    third = 1.0 / 3.0
    return _make_passive(((1.0 - f) * a**third + f * b**third) ** 3)


RULES: dict[str, Rule] = {
    "bruggeman": bruggeman,
    "maxwell-garnett": maxwell_garnett,
    "looyenga": looyenga,
}


def _make_passive(eps: ComplexArray) -> ComplexArray:
    """``eps`` without the gain (or -0) of rounding, which would pick the growing wave's root."""
    passive: ComplexArray = eps.real + 1j * (np.maximum(eps.imag, 0.0) + 0.0)
    return passive


def _check_mixture(
    eps_a: ArrayLike, eps_b: ArrayLike, fraction_b: ArrayLike
) -> tuple[ComplexArray, ComplexArray, FloatArray]:
    fraction = np.asarray(fraction_b, dtype=float)
    if not np.all((fraction >= 0.0) & (fraction <= 1.0)):
        raise OutOfRangeError("the volume fraction of a mixture must lie between 0 and 1")
    a, b = np.asarray(eps_a, dtype=complex), np.asarray(eps_b, dtype=complex)
    if not (np.isfinite(a).all() and np.isfinite(b).all()):
        raise OutOfRangeError("the permittivities of a mixture must be finite numbers")
    return a, b, fraction


@dataclass(frozen=True)
class Mixture:
    """Two media mixed on a scale far below the wavelength.

    Parameters
    ----------
    first, second : Medium
    fraction_second : float
        Volume fraction of the second medium, 0 to 1.
    rule : str
        A key of :data:`RULES`.
    """

    first: Medium
    second: Medium
    fraction_second: float
    rule: str = field(default="bruggeman")

    def __post_init__(self) -> None:
        if self.rule not in RULES:
            raise UnknownNameError(
                f"unknown mixing rule {self.rule!r}; use one of {', '.join(RULES)}"
            )
        _check_mixture(1.0, 1.0, self.fraction_second)

    @property
    def label(self) -> str:
        """The mixture as our notation writes it."""
        return f"{self.first.label}:{self.second.label} {100.0 * self.fraction_second:.12g}%"

    @property
    def kind(self) -> str:
        """A mixture counts as the kind of its parts where they agree."""
        return self.first.kind if self.first.kind == self.second.kind else "mixture"

    def nk(self, wavelength_nm: ArrayLike) -> ComplexArray:
        """Complex index of the mixture, shape of ``wavelength_nm``."""
        return _mix_nk(self, wavelength_nm, self.fraction_second)


@dataclass(frozen=True)
class Grade:
    """A layer that passes from one medium into another, linearly in volume fraction with depth."""

    first: Medium
    second: Medium
    rule: str = field(default="bruggeman")

    @property
    def label(self) -> str:
        """The graded layer as our notation writes it."""
        return f"{self.first.label}->{self.second.label}"

    @property
    def kind(self) -> str:
        """A graded layer counts as the kind of its parts where they agree."""
        return self.first.kind if self.first.kind == self.second.kind else "mixture"

    def slices(self, count: int, wavelength_nm: ArrayLike) -> ComplexArray:
        """Complex index of ``count`` equal slices, each the mixture of its middle.

        Shape (count, W) for wavelengths of shape (W,).
        """
        middles = (np.arange(count) + 0.5)[:, None] / count
        return _mix_nk(self, wavelength_nm, middles)

    def nk(self, wavelength_nm: ArrayLike) -> ComplexArray:
        """Complex index half way through, shape of ``wavelength_nm``."""
        return Mixture(self.first, self.second, 0.5, self.rule).nk(wavelength_nm)

    def reverse(self) -> Grade:
        """The same layer met from the other side."""
        return Grade(self.second, self.first, self.rule)


def short_name(medium: Medium) -> str:
    """A medium without its data sets, mixed ones by their parts: ``Ti:TiO2 30%``."""
    if isinstance(medium, Mixture | Grade):
        first, second = short_name(medium.first), short_name(medium.second)
        if isinstance(medium, Grade):
            return f"{first}->{second}"
        return f"{first}:{second} {100.0 * medium.fraction_second:g}%"
    return medium.label.partition("(")[0]


def tell_stand_ins(media: Iterable[Medium]) -> tuple[str, ...]:
    """What to expect of each material whose data are another's, mixed ones by their parts."""
    said: list[str] = []
    for medium in media:
        if isinstance(medium, Mixture | Grade):
            said += tell_stand_ins((medium.first, medium.second))
        elif isinstance(medium, Material) and STANDS_FOR in medium.header:
            said.append(medium.header[STANDS_FOR])
    return tuple(dict.fromkeys(said))


def _permittivity(part: Medium, wavelength_nm: ArrayLike) -> ComplexArray:
    """Square of an index with n and k not negative: a root would hide a sign turned round."""
    index = part.nk(wavelength_nm)
    if not (np.all(index.real >= 0.0) and np.all(index.imag >= 0.0)):
        raise OutOfRangeError(
            f"{part.label}: index must have n and k finite and not negative; here absorption is "
            f"n + ik, k above 0"
        )
    squared: ComplexArray = index**2
    return squared


def _mix_nk(blend: Mixture | Grade, wavelength_nm: ArrayLike, share: ArrayLike) -> ComplexArray:
    """Complex index of a blend at a volume fraction of its second medium."""
    first, second = (_permittivity(part, wavelength_nm) for part in (blend.first, blend.second))
    index: ComplexArray = np.sqrt(RULES[blend.rule](first, second, share))
    return index
