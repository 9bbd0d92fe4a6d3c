"""A colour off a photo, corrected by something of known colour in the same picture."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from .._typing import FloatArray
from ..colour.spaces import (
    BRADFORD,
    SRGB_WHITE_XYZ,
    check_components,
    delta_e_76,
    lab_to_xyz,
    srgb_to_xyz,
    xyz_to_srgb_linear,
)
from ..errors import InputError, OutOfRangeError
from .image import Codes
from .linear_light import Picture, linearise_within
from .patches import Patch, PatchColour, linear_to_lab, parse_patch, read_patch

__all__ = [
    "Correction",
    "Patch",
    "PatchColour",
    "PhotoReading",
    "correct_whole_photo",
    "parse_patch",
    "read_patch",
    "read_photo",
]

WHITE_REFLECTANCE = 0.9
"""Luminous reflectance of a white card or sheet of paper (common practice, no source)."""

FLOOR_DE = 0.75
"""What rounding to 8 bits and compression do to a patch without any scatter [ΔE]; measured on
flat patches of 126 film colours at JPEG quality 75 (root mean square)."""

BARE_RESIDUAL_DE = 8.0
"""Distance of the bare metal from its known colour [ΔE] that a picture with a card should keep:
twice what noise 2, discrepancy 3, gain 3 % and white balance 1 come to."""

STRONG_BALANCE, STRONG_GAIN = 2.0, 4.0
"""Ratio of the largest to the smallest gain, and gain in luminance either way, above which a
reference is hardly what it is said to be: stated defaults."""

_NO_REFERENCE = (
    "nothing of known colour is in the picture, so exposure and white balance are the camera's "
    "guess; lay a white card beside the piece"
)

# Linear sRGB to Bradford cone responses, scaled to 1 for white.
_TO_CONES: FloatArray = BRADFORD @ srgb_to_xyz(np.eye(3)).T
_TO_CONES = _TO_CONES / _TO_CONES.sum(axis=1, keepdims=True)
_FROM_CONES = np.linalg.inv(_TO_CONES)
_STEP = 1e-4


@dataclass(frozen=True, eq=False)
class PhotoReading:
    """A colour off a photo.

    Attributes
    ----------
    lab : ndarray, shape (3,)
        CIELAB, D65.
    noise_de : float
        Scatter of the reading [ΔE, total over L*, a*, b*], one standard deviation: of the
        patch's mean, across the patch, and of the reference; no error common to the whole
        picture is in it.
    how : {"card", "photo"}
        With or without a reference in the picture.
    adapted_by : {"white", "bare"} or None
        What exposure and white balance were corrected by.
    gain : ndarray, shape (3,)
        Factors on the Bradford cone responses; 1 without a reference.
    bare_residual_de : float or None
        Distance of the bare metal, corrected by the white card, from its known colour.
    seen : PatchColour
        The patch before any correction.
    warnings : tuple of str
    """

    lab: FloatArray
    noise_de: float
    how: Literal["card", "photo"]
    adapted_by: Literal["white", "bare"] | None
    gain: FloatArray
    bare_residual_de: float | None
    seen: PatchColour
    warnings: tuple[str, ...]


def read_photo(
    picture: Picture,
    patch: Patch,
    *,
    white: Patch | None = None,
    bare: Patch | None = None,
    white_reflectance: float = WHITE_REFLECTANCE,
    bare_lab: ArrayLike | None = None,
) -> PhotoReading:
    """The colour of a patch, corrected by a white card or the bare metal where there is one.

    Parameters
    ----------
    picture : Picture
    patch : Patch
        Where the film is.
    white : Patch, optional
        Where a white card or sheet of paper is; it corrects exposure and white balance.
    bare : Patch, optional
        Where the metal is bare; it corrects both where there is no card, and else checks it.
    white_reflectance : float
        Luminous reflectance of the card [-], 0.2 to 1.
    bare_lab : array_like, shape (3,), optional
        CIELAB (D65) of the bare metal, as the model has it.

    Returns
    -------
    PhotoReading

    Raises
    ------
    InputError
        If a patch is refused (see `read_patch`), two of them overlap, or the bare metal comes
        without its colour.
    OutOfRangeError
        If ``white_reflectance`` leaves 0.2..1.

    Notes
    -----
    ``cones = B linear``; ``gain = B known / B seen`` of the reference; ``corrected = B⁻¹ (gain
    B linear)``, with B the Bradford cone responses. A camera sets its balance on its own raw
    channels, which a picture no longer has; computed for 155 films, four lights and the two
    cameras whose sensitivities colour-science ships, gains on Bradford cones missed by 0 to 1 ΔE
    less (median) than gains on linear sRGB, and in no case by more.

    What no reference in the picture can mend, and the doubts must carry: light that falls
    otherwise on the card than on the piece (shading cannot be told from two places; lay them
    side by side), glare, a card that scatters where the metal mirrors (what is lit is not what
    the metal reflects), a camera's tone curve, its local brightening, and lamps that do not
    render colours. Without any reference nothing is corrected.
    """
    _check_white(white_reflectance)
    _check_apart(picture, patch, white, bare)
    seen = read_patch(picture, patch)
    card = None if white is None else read_patch(picture, white)
    metal = None if bare is None else read_patch(picture, bare)
    known_bare = _linear_of_bare(bare_lab, bare)
    if card is not None:
        known = np.full(3, white_reflectance)
        residual = None if metal is None else _residual(metal, card, known, known_bare)
        return _correct(seen, card, known, "white", residual, metal)
    if metal is not None:
        return _correct(seen, metal, known_bare, "bare", None, None)
    return _leave_uncorrected(seen)


@dataclass(frozen=True, eq=False)
class Correction:
    """What carries linear light as photographed to linear light as it was.

    Attributes
    ----------
    matrix : ndarray, shape (3, 3)
        ``corrected = matrix @ linear``.
    adapted_by : {"white", "bare"} or None
    warnings : tuple of str
    """

    matrix: FloatArray
    adapted_by: Literal["white", "bare"] | None
    warnings: tuple[str, ...]


def correct_whole_photo(
    codes: Codes,
    *,
    white: Patch | None = None,
    bare: Patch | None = None,
    white_reflectance: float = WHITE_REFLECTANCE,
    bare_lab: ArrayLike | None = None,
) -> Correction:
    """The correction `read_photo` makes, for every pixel; only the reference is made light of.

    Parameters and errors as for `read_photo`; of a card and bare metal the card is taken.
    """
    _check_white(white_reflectance)
    at = white or bare
    if at is None:
        return Correction(np.eye(3), None, (_NO_REFERENCE,))
    rows, columns = at.box(codes.values.shape)
    reference = read_patch(linearise_within(codes, [(rows, columns)]), at)
    known = np.full(3, white_reflectance) if white else _linear_of_bare(bare_lab, bare)
    gain = _gain(reference, known)
    matrix = _FROM_CONES @ (gain[:, None] * _TO_CONES)
    warnings = (*reference.warnings, *_list_doubts(np.zeros(3), gain, reference, None))
    return Correction(matrix, "white" if white else "bare", warnings)


def _check_white(white_reflectance: float) -> None:
    if not 0.2 <= white_reflectance <= 1.0:
        raise OutOfRangeError(
            f"white_reflectance is {white_reflectance:g}; a card for white has 0.2 to 1"
        )


def _check_apart(picture: Picture, *patches: Patch | None) -> None:
    boxes = [(p, p.box(picture.linear.shape)) for p in patches if p is not None]
    for i, (one, (rows, columns)) in enumerate(boxes):
        for other, (rows2, columns2) in boxes[i + 1 :]:
            if _overlap(rows, rows2) and _overlap(columns, columns2):
                raise InputError(f"the patches {one} and {other} overlap; they must lie apart")


def _overlap(one: slice, other: slice) -> bool:
    return bool(one.start < other.stop and other.start < one.stop)


def _linear_of_bare(bare_lab: ArrayLike | None, bare: Patch | None) -> FloatArray:
    if bare is None:
        return np.ones(3)
    if bare_lab is None:
        raise InputError("a patch of bare metal needs the colour the metal has (bare_lab)")
    lab = check_components(bare_lab, "bare_lab")
    if lab.shape != (3,) or lab[0] <= 0.0:
        raise InputError("bare_lab must be one CIELAB colour with a lightness above 0")
    return xyz_to_srgb_linear(lab_to_xyz(lab, SRGB_WHITE_XYZ), SRGB_WHITE_XYZ)


def _gain(reference: PatchColour, known: FloatArray) -> FloatArray:
    """Factors on the cone responses that carry what is seen of a reference to what is known."""
    seen, wanted = _TO_CONES @ reference.linear, _TO_CONES @ known
    if np.any(seen <= 0.0) or np.any(wanted <= 0.0):
        raise InputError(f"the patch {reference.patch} is too saturated to serve as a reference")
    gain: FloatArray = wanted / seen
    return gain


def _apply(gain: FloatArray, linear: FloatArray) -> FloatArray:
    corrected: FloatArray = _FROM_CONES @ (gain * (_TO_CONES @ linear))
    return corrected


def _residual(
    metal: PatchColour, card: PatchColour, known: FloatArray, known_bare: FloatArray
) -> float:
    corrected = linear_to_lab(_apply(_gain(card, known), metal.linear))
    return float(delta_e_76(corrected, linear_to_lab(known_bare)))


def _correct(
    seen: PatchColour,
    reference: PatchColour,
    known: FloatArray,
    by: Literal["white", "bare"],
    residual: float | None,
    metal: PatchColour | None,
) -> PhotoReading:
    gain = _gain(reference, known)
    linear = _apply(gain, seen.linear)
    lab = linear_to_lab(linear)
    said = [*seen.warnings, *reference.warnings, *(metal.warnings if metal else ())]
    return PhotoReading(
        lab=lab,
        noise_de=_noise_de(_variance(seen, reference, gain, linear)),
        how="card",
        adapted_by=by,
        gain=gain,
        bare_residual_de=residual,
        seen=seen,
        warnings=(*said, *_list_doubts(lab, gain, reference, residual)),
    )


def _leave_uncorrected(seen: PatchColour) -> PhotoReading:
    return PhotoReading(
        lab=seen.lab,
        noise_de=_noise_de(float(np.trace(seen.covariance_lab + seen.scatter_lab))),
        how="photo",
        adapted_by=None,
        gain=np.ones(3),
        bare_residual_de=None,
        seen=seen,
        warnings=(
            *seen.warnings,
            _NO_REFERENCE,
        ),
    )


def _noise_de(variance: float) -> float:
    return float(np.sqrt(variance + FLOOR_DE**2))


def _variance(
    seen: PatchColour, reference: PatchColour, gain: FloatArray, linear: FloatArray
) -> float:
    """Variance of the corrected colour [ΔE²]: that of the patch, carried through, and that of
    the reference, whose relative error in a cone is an error of that gain."""
    slope = _lab_slope(linear)
    carry = _FROM_CONES @ (gain[:, None] * _TO_CONES)
    own = slope @ carry @ _covariance_linear(seen) @ carry.T @ slope.T
    cones = _TO_CONES @ reference.linear
    shift = _FROM_CONES * (gain * (_TO_CONES @ seen.linear) / cones) @ _TO_CONES
    other = slope @ shift @ _covariance_linear(reference) @ shift.T @ slope.T
    return float(np.trace(own + other))


def _covariance_linear(colour: PatchColour) -> FloatArray:
    back = np.linalg.inv(_lab_slope(colour.linear))
    covariance: FloatArray = back @ (colour.covariance_lab + colour.scatter_lab) @ back.T
    return covariance


def _lab_slope(linear: FloatArray) -> FloatArray:
    """Derivative of CIELAB by linear sRGB, shape (3, 3), by central differences."""
    steps = _STEP * np.eye(3)
    slope: FloatArray = (linear_to_lab(linear + steps) - linear_to_lab(linear - steps)).T / (
        2 * _STEP
    )
    return slope


def _list_doubts(
    lab: FloatArray, gain: FloatArray, reference: PatchColour, residual: float | None
) -> tuple[str, ...]:
    logs = np.log(gain)
    exposure, darker = float(np.exp(np.abs(logs).max())), bool(logs.sum() > 0.0)
    balance = float(gain.max() / gain.min())
    at = reference.patch
    said = (
        (
            balance > STRONG_BALANCE,
            f"the reference at {at} looks strongly coloured in the picture; look whether it lies "
            "there",
        ),
        (
            exposure > STRONG_GAIN,
            f"the reference at {at} is {exposure:.0f} times {'darker' if darker else 'brighter'} "
            "than it should be; look whether it lies there",
        ),
        (
            lab[0] > 100.0,
            "the corrected colour is brighter than a perfect white: the piece catches more light "
            f"than the reference at {at}",
        ),
        (
            residual is not None and residual > BARE_RESIDUAL_DE,
            f"corrected by the card, the bare metal is {residual or 0.0:.0f} ΔE off its known "
            "colour; card and piece may be lit differently",
        ),
    )
    return tuple(text for applies, text in said if applies)
