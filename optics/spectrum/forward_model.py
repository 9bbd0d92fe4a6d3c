"""One way a spectrum may have come about: an index model on a base, with all that is unknown.

Unknown are the film's thickness (uniform over a range) and numbers z that are standard normal
before the measurement: the index model's, then the scale of the instrument and, unless they are
left out, roughness and haze.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from .._typing import BoolArray, ComplexArray, FloatArray
from .index_models import FURTHEST_Z, Index, IndexModel, IndexParameter
from .reparametrisation import Ridge
from .sample import Sample

# Judgements about ordinary instruments and polished pieces.
_SCALE_SPREAD, _ROUGH_SPREAD_NM, _HAZE_SPREAD_NM = 0.01, 2.0, 1.5


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
        The model's, then ``scale``, ``roughness`` and ``haze``.
    between_nm : tuple of float
    weight : float
        Prior probability.
    """

    base: str
    model: IndexModel | None
    piece: Sample
    index: Index | None
    parameters: tuple[IndexParameter, ...]
    between_nm: tuple[float, float]
    weight: float

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
    ) -> ForwardModel:
        """A hypothesis with the parameters it needs."""
        own = model.parameters if model else ()
        extra = [IndexParameter("scale", "", 0.0, _SCALE_SPREAD)]
        if roughness:
            if piece.role != "none":
                extra.append(
                    IndexParameter("roughness", "nm", 0.0, _ROUGH_SPREAD_NM, "half-normal")
                )
            extra.append(IndexParameter("haze", "nm", 0.0, _HAZE_SPREAD_NM, "half-normal"))
        index = model.at(piece.wavelength_nm) if model else None
        return cls(base, model, piece, index, (*own, *extra), between_nm, weight)

    @property
    def has_thickness(self) -> bool:
        """Whether the first unknown is a thickness."""
        return self.piece.role == "film"

    @cached_property
    def ridge(self) -> Ridge:
        """Unknowns in which films of one optical thickness lie straight."""
        return Ridge.of(self.parameters, self.has_thickness)

    @property
    def bounds(self) -> tuple[FloatArray, FloatArray]:
        """Least and most that each unknown can be, shape (F,) each."""
        low, high = zip(
            *([self.between_nm] if self.has_thickness else []),
            *((p.floor, FURTHEST_Z) for p in self.parameters),
            strict=True,
        )
        return np.array(low), np.array(high)

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
        if index is None or self.model is None:
            one = np.ones((len(x), self.piece.wavelength_nm.size), dtype=complex)
            return one, one[:0][None]
        named = list(self.values(x).values())[: len(self.model.parameters)]
        nk, to_values = index(np.array(named)[:, :, None], slopes)
        return np.broadcast_to(nk, (len(x), nk.shape[-1])), to_values

    def curves(self, x: FloatArray) -> FloatArray:
        """What the instrument reads, shape (N, W), for unknowns (N, F).

        NaN where the index model has no value, as a resonance of impossible width.
        """
        named = self.values(x)
        film, _ = self.film(x, self.index, False)
        film, possible = _replace_impossible(film)
        rough = named.get("roughness", np.zeros(len(x)))
        power = self.piece.powers(film, self.thickness_nm(x), rough)
        return np.where(possible, self._factor(named) * power, np.nan)

    def slopes(self, x: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Readings (N, W) and their derivatives (N, W, F) to the unknowns."""
        named = self.values(x)
        film, to_values = self.film(x, self.index, True)
        film, possible = _replace_impossible(film)
        rough = named.get("roughness", np.zeros(len(x)))
        power, to_d, to_rough, to_n = self.piece.gradient(film, self.thickness_nm(x), rough)
        factor = self._factor(named)
        columns = [to_d] if self.has_thickness else []
        if self.model is not None:
            columns += [(to_n * slope).real for slope in to_values]
        columns.append(power)
        if "roughness" in named:
            columns.append(to_rough)
        if "haze" in named:
            columns.append(-2.0 * power * named["haze"][:, None] * self._haze)
        z = x[:, int(self.has_thickness) :]
        chain = [np.ones(len(x))] if self.has_thickness else []
        chain += [p.slope(z[:, i]) for i, p in enumerate(self.parameters)]
        shape = (len(x), self.piece.wavelength_nm.size)
        stacked = np.stack([np.broadcast_to(column, shape) for column in columns], axis=-1)
        jacobian = factor[..., None] * stacked * np.stack(chain, axis=-1)[:, None, :]
        return np.broadcast_to(np.where(possible, factor * power, np.nan), shape), jacobian

    @property
    def _haze(self) -> FloatArray:
        """Share lost to scatter for each square nanometre of rms roughness, shape (W,)."""
        path = 4.0 if self.piece.kind == "reflectance" else 2.0
        return np.asarray((path * np.pi / self.piece.wavelength_nm) ** 2)

    def _factor(self, named: dict[str, FloatArray]) -> FloatArray:
        """Scale of the instrument times what haze leaves, ``exp(-(4πσ/λ)²)``, shape (N, W)."""
        haze = named.get("haze", np.zeros(len(named["scale"])))
        return np.exp(named["scale"][:, None] - haze[:, None] ** 2 * self._haze)


def _replace_impossible(film: ComplexArray) -> tuple[ComplexArray, BoolArray]:
    """Index with 1 in rows that have no value, and which rows (N, 1) have one."""
    possible = np.asarray(np.isfinite(film).all(axis=-1, keepdims=True))
    return np.where(possible, film, 1.0), possible
