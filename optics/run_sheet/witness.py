"""What a witness slide shows while a layer grows: both faces, the light through, and ohms."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from .._typing import FloatArray
from ..colour.colour import Colour, to_colour
from ..colour.conditions import ViewingConditions
from ..electrical.thin_film import conducting_metals, film_metal, metal_sheet_ohm
from ..errors import LimitError, OutOfRangeError
from ..films.materials.catalogue import MaterialEntry, find_entry
from ..films.materials.effective_medium import Grade, Mixture
from ..films.materials.medium import Medium
from ..films.materials.nk_table import Material
from ..films.solve import solve
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from ..films.stack import Layer, Stack
from ..films.written import label_stack

WITNESS_SLAB_NM = 1e6  # a slide, where the substrate has no thickness of its own
MOST_MOMENTS = 200  # within one layer
_PARTS = 12  # of a layer, where no interval is asked for
_SLICES = 60  # of a graded layer while it grows


@dataclass(frozen=True)
class WitnessLook:
    """What the witness slide shows at one moment.

    Attributes
    ----------
    stack : str or None
        The slide with the whole layer on it; None before the layer is finished.
    thickness_nm, time_s : float
        Of the layer so far [nm], and since it began [s].
    reflected : Colour
        The face that is coated.
    reflected_back, transmitted : Colour or None
        From the other side and through; None where the substrate is opaque.
    ohms_per_square : float or None
        What a meter with two probes on the growing face finds, in the middle of the doubt; infinite
        while the islands do not touch; None where the layer does not conduct, or how is not known.
    ohms_range : tuple of float or None
        Clean and well joined, and foul and late to join [ohm per square].
    """

    stack: str | None
    thickness_nm: float
    time_s: float
    reflected: Colour
    reflected_back: Colour | None
    transmitted: Colour | None
    ohms_per_square: float | None
    ohms_range: tuple[float, float] | None


@dataclass(frozen=True, eq=False)
class Witness:
    """Looks at the moments a layer has reached some thicknesses; the last is the whole layer.

    Attributes
    ----------
    slide : Stack
        The slide with the whole layer on it.
    thickness_nm : ndarray, shape (n,)
        Thickness of the growing layer [nm].
    reflected : Colour
        Colours of shape (n, 3); likewise the next two, None where the substrate is opaque.
    reflected_back, transmitted : Colour or None
    ohms : ndarray, shape (n, 3), or None
        Lowest, middle and highest sheet resistance; see :class:`WitnessLook`.
    """

    slide: Stack
    thickness_nm: FloatArray
    reflected: Colour
    reflected_back: Colour | None
    transmitted: Colour | None
    ohms: FloatArray | None

    def look(self, i: int, time_s: float) -> WitnessLook:
        """One moment of a layer that takes so long."""
        at, back, through = float(self.thickness_nm[i]), self.reflected_back, self.transmitted
        ohms = None if self.ohms is None else self.ohms[i].tolist()
        return WitnessLook(
            label_stack(self.slide) if i == self.thickness_nm.size - 1 else None,
            at,
            time_s * at / float(self.thickness_nm[-1]),
            self.reflected[i],
            None if back is None else back[i],
            None if through is None else through[i],
            None if ohms is None else ohms[1],
            None if ohms is None else (ohms[0], ohms[2]),
        )

    def looks(self, time_s: float) -> tuple[WitnessLook, ...]:
        """All moments."""
        return tuple(self.look(i, time_s) for i in range(self.thickness_nm.size))


def moments_nm(whole_nm: float, every_nm: float | None) -> FloatArray:
    """Thicknesses of a layer at which to look [nm]: rising, above 0, the last the whole.

    Raises
    ------
    OutOfRangeError, LimitError
        If the interval is not above 0, or so small that there are more than 200 looks.
    """
    if every_nm is None:
        return whole_nm * np.arange(1, _PARTS + 1) / _PARTS
    if not 0.0 < every_nm < np.inf:
        raise OutOfRangeError(f"the interval between looks is {every_nm:g} nm; it must be above 0")
    with np.errstate(over="ignore"):
        parts = min(np.divide(whole_nm, every_nm), 1e15)
    count = int(np.ceil(parts * (1.0 - 1e-12)))
    if count > MOST_MOMENTS:
        raise LimitError(
            f"a layer of {whole_nm:g} nm every {every_nm:g} nm makes {count:,} looks; at most "
            f"{MOST_MOMENTS} are taken, so widen the interval"
        )
    return np.append(every_nm * np.arange(1, count), whole_nm)


def witness_substrate(stack: Stack, witness: Stack | None) -> Stack:
    """The bare slide: the stack's own substrate, with two faces where light goes through it."""
    bare = witness or stack
    slab_nm = bare.slab_nm
    if slab_nm is None and not bare.is_opaque(DEFAULT_WAVELENGTH_NM):
        slab_nm = WITNESS_SLAB_NM
    return Stack((), bare.substrate, slab_nm, (), stack.ambient)


def add_layer(laid: Stack, layer: Layer, back: bool) -> Stack:
    """The stack with one more layer outermost on a face."""
    if back:
        return replace(laid, back_layers=(*laid.back_layers, layer))
    return replace(laid, layers=(layer, *laid.layers))


def _growing(medium: Medium, thickness_nm: FloatArray, back: bool) -> tuple[Layer, ...]:
    """A layer of rising thickness; a graded one in slices, in the order they are laid, of which
    each is full before the next begins."""
    if not isinstance(medium, Grade):
        return (Layer(medium, thickness_nm, 0),)
    each_nm, middles = thickness_nm[-1] / _SLICES, (np.arange(_SLICES) + 0.5) / _SLICES
    return tuple(
        Layer(
            Mixture(medium.first, medium.second, float(share), medium.rule),
            np.clip(thickness_nm - k * each_nm, 0.0, each_nm),
            0,
        )
        for k, share in enumerate(middles if back else middles[::-1])
    )


def watch(
    laid: Stack,
    medium: Medium,
    thickness_nm: FloatArray,
    *,
    back: bool,
    viewing: ViewingConditions,
    angle_deg: float = 0.0,
    ohm_sq: tuple[float, float] | None = None,
) -> Witness:
    """Looks at a layer growing on what has been deposited.

    Parameters
    ----------
    laid : Stack
        The slide with all layers before.
    medium : Medium
        Of the growing layer.
    thickness_nm : ndarray, shape (n,)
        Moments to look at.
    back : bool
        Whether it grows on the back face.
    viewing : ViewingConditions
    angle_deg : float
        Angle of incidence [°].
    ohm_sq : tuple of float, optional
        Sheet resistance of the whole layer alone, of a medium that no metal's law holds for.
    """
    seen = laid
    for layer in _growing(medium, thickness_nm, back):
        seen = add_layer(seen, layer, back)
    coated = seen.reverse() if back else seen
    response = solve(coated, angle_deg=angle_deg)
    light, observer = viewing.light, viewing.observer
    behind = through = None
    if not seen.is_opaque(DEFAULT_WAVELENGTH_NM):
        through = to_colour(response, light, observer, of="transmitted")
        far = solve(coated, angle_deg=angle_deg, side="back")
        behind = to_colour(far, light, observer)
    own = None
    if ohm_sq is not None:
        whole = np.array([ohm_sq[0], np.sqrt(ohm_sq[0] * ohm_sq[1]), ohm_sq[1]])
        own = whole * (thickness_nm[-1] / thickness_nm)[:, None]
    elif _conducts(medium):
        own = _sheet(medium, thickness_nm)
    return Witness(
        add_layer(laid, Layer(medium, thickness_nm[-1]), back),
        thickness_nm,
        to_colour(response, light, observer),
        behind,
        through,
        None if own is None else _in_parallel(own, coated.layers[1:]),
    )


def _in_parallel(sheet: FloatArray, under: tuple[Layer, ...]) -> FloatArray:
    """Sheet resistance (n, 3) with that of the metals below which a probe reaches."""
    conductance = 1.0 / sheet
    for layer in under:
        if not _conducts(layer.medium) or not layer.thickness_nm > 0.0:
            break
        conductance = conductance + 1.0 / _sheet(layer.medium, np.atleast_1d(layer.thickness_nm))
    with np.errstate(divide="ignore"):  # islands that do not touch
        ohms: FloatArray = 1.0 / conductance
    return ohms


def _sheet(medium: Medium, thickness_nm: FloatArray) -> FloatArray:
    """Sheet resistance [ohm per square] (n, 3) between the bounds of impurity and of joining."""
    metal = film_metal(medium.label)
    bounds = np.array([metal.impurity, metal.percolation_nm])
    impurity, percolation = np.insert(bounds, 1, np.sqrt(bounds.prod(axis=1)), axis=1)
    return metal_sheet_ohm(metal, thickness_nm[:, None], impurity, percolation_nm=percolation)


def _conducts(medium: Medium) -> bool:
    entry = find_handbook_line(medium)
    return entry is not None and entry.name in conducting_metals()


def find_handbook_line(medium: Medium) -> MaterialEntry | None:
    """The handbook line of a medium; None for a bare index, a user's own table or a mixture."""
    if isinstance(medium, Material) and medium.kind != "user":
        return find_entry(medium.label)
    return None
