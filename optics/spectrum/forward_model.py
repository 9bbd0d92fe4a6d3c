"""One way a spectrum may have come about: an index model on a base, with all that is unknown.

Unknown are the film's thickness (uniform over a range) and numbers z that are standard normal
before the measurement: the index model's, roughness and haze unless they are left out, and what
one doubt about piece or instrument adds. The instrument's scale and zero are no unknowns here: the
:mod:`~oxhue.optics.spectrum.noise_model` sums over them.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from .._typing import BoolArray, ComplexArray, FloatArray
from .index_models import FURTHEST_Z, Index, IndexModel, IndexParameter
from .reparametrisation import Ridge
from .sample import PowerSlopes, Sample
from .slit import Slit
from .spot import Build

# Judgements about polished pieces.
_ROUGH_SPREAD_NM, _HAZE_SPREAD_NM = 2.0, 1.5
_ABSORBED_AT_NM = 550.0

DOUBTS: dict[str, tuple[IndexParameter, ...]] = {
    # An oxide short of oxygen or grown hot: k of 0.006 to 0.15, falling or rising over the band.
    "absorption": (
        IndexParameter("absorption", "", 0.03, 1.0, "logarithmic"),
        IndexParameter("absorption tilt", "", 0.0, 1.5),
    ),
    # Over a spot of some millimetres: 1 to 10 %, by heat, masks or the distance to a source.
    "thickness spread": (IndexParameter("thickness spread", "", 0.03, 0.7, "logarithmic"),),
    # Half film and half base: the foot of a grown oxide, or atoms driven in; 3 to 37 nm.
    "mixed layer": (IndexParameter("mixed layer", "nm", 10.0, 0.8, "logarithmic"),),
    # Ground or rolled metal: of light lost from the mirror's direction, 1 to 50 % in the green.
    "finish": (IndexParameter("finish", "nm", 12.0, 0.7, "logarithmic"),),
    # A pocket instrument's slit, whatever its steps: 3 to 20 nm.
    "bandwidth": (IndexParameter("bandwidth", "nm", 8.0, 0.55, "logarithmic"),),
    # A probe held by hand, a worn reference or one of another gloss.
    "scale": (IndexParameter("scale", "", 1.0, 0.05),),
}
"""What each doubt adds to the unknowns, where it is true: sizes at which it matters, since a
spectrum weighs it against its absence. Judgements from common practice, no source."""

BLINDING = ("absorption", "thickness spread", "mixed layer", "finish", "bandwidth")
"""Doubts that hide or move the fringes where they are strong, so that the thickness is not among
those of plain films."""

GROWING = ("absorption", "thickness spread", "bandwidth")
"""Those of them that hide the fringes the more, the thicker the film is."""

_EACH_DOUBT = 1.0 / (1 + len(DOUBTS))  # prior probability: as likely as that all is plain


@dataclass(frozen=True, eq=False)
class ForwardModel:
    """A hypothesis about a spectrum.

    Attributes
    ----------
    base : str
        The data set of what the film touches.
    model : IndexModel or None
        None without a film.
    piece : Sample
    index : Index or None
        The model at the piece's wavelengths.
    parameters : tuple of IndexParameter
        The model's, then ``roughness`` and ``haze``, then the doubt's.
    between_nm : tuple of float
    weight : float
        Prior probability.
    slit : Slit
        From the piece's wavelengths to the readings.
    checked : tuple of str
        Doubts that are ruled out.
    doubt : str
        A key of ``DOUBTS``, or empty.
    is_draft : bool
        Whether the curve is wanted quickly: of a smooth film.
    """

    base: str
    model: IndexModel | None
    piece: Sample
    index: Index | None
    parameters: tuple[IndexParameter, ...]
    between_nm: tuple[float, float]
    weight: float
    slit: Slit
    checked: tuple[str, ...] = ()
    doubt: str = ""
    is_draft: bool = False

    @classmethod
    def of(
        cls,
        base: str,
        model: IndexModel | None,
        piece: Sample,
        *,
        between_nm: tuple[float, float],
        weight: float,
        roughness: bool,
        slit: Slit,
        checked: tuple[str, ...] = (),
    ) -> ForwardModel:
        """A hypothesis with the parameters it needs."""
        own = model.parameters if model else ()
        extra = []
        if roughness:
            if piece.role != "none":
                extra.append(
                    IndexParameter("roughness", "nm", 0.0, _ROUGH_SPREAD_NM, "half-normal")
                )
            extra.append(IndexParameter("haze", "nm", 0.0, _HAZE_SPREAD_NM, "half-normal"))
        index = model.at(piece.wavelength_nm) if model else None
        known = (*checked, "bandwidth") if slit.is_known else checked
        parameters = (*own, *extra)
        plain = cls(base, model, piece, index, parameters, between_nm, weight, slit, known)
        return replace(plain, weight=weight * (1.0 - _EACH_DOUBT * len(plain.doubts)))

    @cached_property
    def draft(self) -> ForwardModel:
        """The same, worked out quickly: for a first look over the whole range."""
        return replace(self, is_draft=True)

    @property
    def doubts(self) -> tuple[str, ...]:
        """What may be true of such a piece and instrument besides."""
        film = self.piece.role == "film"
        clear = self.model is not None and self.model.is_clear
        apply = {
            "absorption": film and clear,
            "thickness spread": film,
            "mixed layer": film,
            "finish": any(p.name == "haze" for p in self.parameters),
            "bandwidth": film,
        }
        return tuple(n for n in DOUBTS if apply.get(n, True) and n not in self.checked)

    def with_doubt(self, doubt: str) -> ForwardModel:
        """The same where a doubt is true."""
        own = tuple(p for p in self.parameters if doubt != "finish" or p.name != "haze")
        weight = self.weight * _EACH_DOUBT / (1.0 - _EACH_DOUBT * len(self.doubts))
        return replace(self, parameters=(*own, *DOUBTS[doubt]), doubt=doubt, weight=weight)

    def start_of(self, doubt: str, x: FloatArray) -> FloatArray:
        """Unknowns of :meth:`with_doubt` where the doubt has its middling size, of these (N, F)."""
        first = int(self.has_thickness)
        kept = [i for i, p in enumerate(self.parameters) if doubt != "finish" or p.name != "haze"]
        own = [x[:, :first], x[:, first:][:, kept], np.zeros((len(x), len(DOUBTS[doubt])))]
        return np.concatenate(own, axis=1)

    def same_path_nm(self, other: ForwardModel, x: FloatArray) -> FloatArray:
        """Thickness (N,) at which a film has the optical path of other's unknowns (N, F)."""
        index = other.film(x, other.index, False)[0].real.mean(axis=-1)
        return np.asarray(np.clip(x[:, 0] * index / self.middle_index, *self.between_nm))

    def start_like(self, other: ForwardModel, x: FloatArray) -> FloatArray:
        """Unknowns of films of the optical path and the doubt that others (N, F) have."""
        start = np.zeros((len(x), 1 + len(self.parameters)))
        start[:, 0] = self.same_path_nm(other, x)
        if self.doubt:
            own = len(DOUBTS[self.doubt])
            start[:, -own:] = x[:, -own:]
        return start

    @property
    def has_thickness(self) -> bool:
        """Whether the first unknown is a thickness."""
        return self.piece.role == "film"

    @cached_property
    def middle_index(self) -> float:
        """Mean index of the film over the band before the measurement."""
        x = np.zeros((1, int(self.has_thickness) + len(self.parameters)))
        return float(self.film(x, self.index, False)[0].real.mean())

    @cached_property
    def ridge(self) -> Ridge:
        """Unknowns in which films of one optical thickness lie straight."""
        return Ridge.of(self.parameters, self.has_thickness)

    @property
    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """Least and most that each unknown can be, shape (F,) each."""
        each = [self.between_nm] if self.has_thickness else []
        each += [(p.floor, FURTHEST_Z) for p in self.parameters]
        low, high = np.array(each, dtype=float).reshape(-1, 2).T
        return low, high

    @property
    def folded(self) -> int:
        """How many of the unknowns cannot be negative."""
        return sum(p.shape == "half-normal" for p in self.parameters)

    def log_prior(self, x: FloatArray) -> FloatArray:
        """Log density (N,) of unknowns before the measurement, the world's own weight included."""
        first = int(self.has_thickness)
        z = x[:, first:]
        # A bell folded at zero is twice as high over its positive half.
        density = np.log(self.weight * 2.0**self.folded) - 0.5 * (
            (z**2).sum(axis=1) + z.shape[1] * np.log(2.0 * np.pi)
        )
        if first:
            density -= np.log(self.between_nm[1] - self.between_nm[0])
        low, high = self.bounds
        inside = np.all((x >= low) & (x <= high), axis=1)
        return np.asarray(np.where(inside, density, -np.inf))

    def values(self, x: FloatArray) -> dict[str, FloatArray]:
        """Parameters by name, shape (N,), of unknowns (N, F)."""
        z = x[:, int(self.has_thickness) :]
        return {p.name: p.value(z[:, i]) for i, p in enumerate(self.parameters)}

    def thickness_nm(self, x: FloatArray) -> FloatArray:
        """Thickness of the dense film, shape (N,); 0 without one."""
        return x[:, 0] if self.has_thickness else np.zeros(len(x))

    def film(
        self, x: FloatArray, index: Index | None, slopes: bool
    ) -> tuple[ComplexArray, ComplexArray]:
        """Index (N, W) of the film and derivatives (P, N, W) to the model's values."""
        return self._film(self.values(x), len(x), index, slopes)

    def _film(
        self, named: dict[str, FloatArray], count: int, index: Index | None, slopes: bool
    ) -> tuple[ComplexArray, ComplexArray]:
        if index is None or self.model is None:
            one = np.ones((count, self.piece.wavelength_nm.size), dtype=complex)
            return one, one[:0][None]
        own = list(named.values())[: len(self.model.parameters)]
        nk, to_values = index(np.array(own)[:, :, None], slopes)
        return np.broadcast_to(nk, (count, nk.shape[-1])), to_values

    def curves(self, x: FloatArray) -> FloatArray:
        """What the instrument reads, shape (N, W), for unknowns (N, F).

        NaN where the index model has no value, as a resonance of impossible width.
        """
        named = self.values(x)
        film, _ = self._film(named, len(x), self.index, False)
        film, possible = _replace_impossible(film + 1j * self._absorption(named))
        power = self.piece.powers(film, self._build(x, named))
        curve = self._factor(named) * power
        if self.doubt == "bandwidth":
            curve, _ = self.slit.blur(curve, named["bandwidth"])
        else:
            curve = curve @ self.slit.known_blur
        return np.where(possible, curve, np.nan)

    def sweep(self, x: FloatArray, thickness_nm: FloatArray) -> FloatArray:
        """What smooth films of unknowns (B, F), but of other thicknesses (G,), send on before
        haze and slit, shape (B, G, V)."""
        named = self.values(x)
        film, _ = self._film(named, len(x), self.index, False)
        film, possible = _replace_impossible(film + 1j * self._absorption(named))
        power = self.piece.sweep(film, thickness_nm, named.get("mixed layer"))
        return np.where(possible[:, None], power, np.nan)

    def slopes(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Readings (N, W) and their derivatives (N, W, F) to the unknowns."""
        named = self.values(x)
        film, to_values = self._film(named, len(x), self.index, True)
        film, possible = _replace_impossible(film + 1j * self._absorption(named))
        found = self.piece.gradient(film, self._build(x, named))
        factor = self._factor(named)
        columns = [found.to_thickness] if self.has_thickness else []
        if self.model is not None:
            columns += [(found.to_index * slope).real for slope in to_values]
        own = len(self.model.parameters) if self.model else 0
        columns += [self._column(p.name, named, found) for p in self.parameters[own:]]
        slopes = np.empty((len(columns), len(x), self.piece.wavelength_nm.size))
        for slope, column in zip(slopes, columns, strict=True):
            slope[:] = factor * column
        curve = factor * found.power
        if self.doubt == "bandwidth":
            curve, to_bandwidth = self.slit.blur(curve, named["bandwidth"])
            slopes = self.slit.blur_slopes(slopes, named["bandwidth"])
            slopes[-1] = to_bandwidth
        else:
            curve, slopes = curve @ self.slit.known_blur, slopes @ self.slit.known_blur
        z = x[:, int(self.has_thickness) :]
        first = int(self.has_thickness)
        for i, p in enumerate(self.parameters):
            slopes[first + i] *= p.slope(z[:, i])[:, None]
        jacobian = np.moveaxis(slopes, 0, -1)
        curve = np.where(possible, curve, np.nan)
        return np.broadcast_to(curve, jacobian.shape[:-1]), jacobian

    def _column(self, name: str, named: dict[str, FloatArray], found: PowerSlopes) -> FloatArray:
        """Derivative of the power, before the slit and over what haze leaves, to a parameter that
        is not the index model's."""
        if name in ("absorption", "absorption tilt"):
            to_k, k = -found.to_index.imag, self._absorption(named)
            if name == "absorption":
                return np.asarray(to_k * k / named["absorption"][:, None])
            return np.asarray(to_k * k * self._redness)
        if name == "scale":
            return np.asarray(found.power / named[name][:, None])
        if name in ("haze", "finish"):
            return np.asarray(-2.0 * found.power * named[name][:, None] * self._haze)
        return {
            "thickness spread": found.to_spread,
            "mixed layer": found.to_mixed,
            "roughness": found.to_rough,
            "bandwidth": np.zeros_like(found.power),
        }[name]

    @cached_property
    def _redness(self) -> FloatArray:
        """Logarithm of the wavelength over that where absorption is quoted, shape (W,)."""
        return np.asarray(np.log(self.piece.wavelength_nm / _ABSORBED_AT_NM))

    def _absorption(self, named: dict[str, FloatArray]) -> FloatArray:
        """What the film absorbs beyond its model, ``k (λ/λ0)^q``, shape (N, W)."""
        if "absorption" not in named:
            return np.zeros((1, 1))
        tilt = named["absorption tilt"][:, None]
        return np.asarray(named["absorption"][:, None] * np.exp(tilt * self._redness))

    def _build(self, x: FloatArray, named: dict[str, FloatArray]) -> Build:
        return Build(
            self.thickness_nm(x),
            None if self.is_draft else named.get("roughness"),
            named.get("mixed layer"),
            named.get("thickness spread"),
        )

    @cached_property
    def _haze(self) -> FloatArray:
        """Share lost to scatter for each square nanometre of rms roughness, shape (V,)."""
        return self._haze_at(self.piece.wavelength_nm)

    def _haze_at(self, wavelength_nm: FloatArray) -> FloatArray:
        path = 4.0 if self.piece.kind == "reflectance" else 2.0
        return np.asarray((path * np.pi / wavelength_nm) ** 2)

    def _factor(self, named: dict[str, FloatArray]) -> FloatArray:
        """What haze and the instrument's scale make of the power, shape (N, V)."""
        rms = named.get("finish", named.get("haze", np.zeros(1)))
        return np.asarray(_left_by(rms, self._haze) * named.get("scale", np.ones(1))[:, None])

    def left_by(self, rms_nm: float, wavelength_nm: FloatArray) -> FloatArray:
        """What the haze of a roughness leaves of the power, shape (W,)."""
        (left,) = _left_by(np.array([rms_nm]), self._haze_at(wavelength_nm))
        return np.asarray(left)


def _left_by(rms_nm: FloatArray, haze: FloatArray) -> FloatArray:
    """What haze leaves of the power, ``exp(-(4πσ/λ)²)``, shape (N, W)."""
    return np.asarray(np.exp(-(rms_nm[:, None] ** 2) * haze))


def _replace_impossible(film: ComplexArray) -> tuple[ComplexArray, BoolArray]:
    """Index with 1 in rows that have no value, and which rows (N, 1) have one."""
    possible = np.asarray(np.isfinite(film).all(axis=-1, keepdims=True))
    return np.where(possible, film, 1.0), possible
