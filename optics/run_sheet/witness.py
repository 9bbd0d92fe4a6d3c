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
from ..films.materials.medium import Medium
from ..films.materials.nk_table import Material
from ..films.solve import solve
from ..films.spectra import DEFAULT_WAVELENGTH_NM
from ..films.stack import Layer, Stack

WITNESS_SLAB_NM = 1e6  # a slide, where the substrate has no thickness of its own
MOST_MOMENTS = 200  # within one layer
_PARTS = 12  # of a layer, where no interval is asked for


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
        The face that is coated, colours of shape (n, 3).
    reflected_back, transmitted : Colour or None
        From the other side and through; None where the substrate is opaque.
    ohms_per_square : ndarray, shape (n,), or None
        What a meter with two probes on the growing face finds, in the middle of the doubt; inf
        while the islands do not touch; None where the layer does not conduct, or how is not known.
    ohms_range : ndarray, shape (n, 2), or None
        Clean and well joined, and foul and late to join [ohm per square].
    """

    slide: Stack
    thickness_nm: FloatArray
    reflected: Colour
    reflected_back: Colour | None
    transmitted: Colour | None
    ohms_per_square: FloatArray | None
    ohms_range: FloatArray | None


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


def watch(
    laid: Stack,
    medium: Medium,
    thickness_nm: FloatArray,
    back: bool,
    viewing: ViewingConditions,
    angle_deg: float = 0.0,
) -> Witness:
    """Looks at a layer growing on what has been laid.

    Parameters
    ----------
    laid : Stack
        The slide with all layers laid before.
    medium : Medium
        Of the growing layer.
    thickness_nm : ndarray, shape (n,)
        Moments to look at.
    back : bool
        Whether it grows on the back face.
    viewing : ViewingConditions
    angle_deg : float
        Angle of incidence [°].
    """
    seen = add_layer(laid, Layer(medium, thickness_nm, 0), back)
    coated = seen.reverse() if back else seen
    response = solve(coated, angle_deg=angle_deg)
    light, observer = viewing.light, viewing.observer
    behind = through = None
    if not seen.is_opaque(DEFAULT_WAVELENGTH_NM):
        through = to_colour(response, light, observer, of="transmitted")
        far = solve(coated, angle_deg=angle_deg, side="back")
        behind = to_colour(far, light, observer)
    ohms = _ohms(medium, thickness_nm, coated.layers[1:])
    whole = add_layer(laid, Layer(medium, thickness_nm[-1]), back)
    return Witness(
        whole, thickness_nm, to_colour(response, light, observer), behind, through,
        None if ohms is None else ohms[:, 1], None if ohms is None else ohms[:, ::2],
    )  # fmt: skip


def _ohms(medium: Medium, thickness_nm: FloatArray, under: tuple[Layer, ...]) -> FloatArray | None:
    """Lowest, middle and highest sheet resistance (n, 3) of the metals a probe reaches."""
    if not _conducts(medium):
        return None
    conductance = 1.0 / _sheet(medium, thickness_nm)
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
    return metal_sheet_ohm(metal, thickness_nm[:, None], impurity, percolation)


def _conducts(medium: Medium) -> bool:
    entry = find_handbook_line(medium)
    return entry is not None and entry.name in conducting_metals()


def find_handbook_line(medium: Medium) -> MaterialEntry | None:
    """The handbook line of a medium; None for a bare index, a user's own table or a mixture."""
    if isinstance(medium, Material) and medium.kind != "user":
        return find_entry(medium.label)
    return None
