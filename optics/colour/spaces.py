"""Conversions between colour spaces, on arrays whose last axis is the colour component.

XYZ is scaled to Y = 100 for the perfect mirror or diffuser throughout. The path from XYZ to
CIELAB and sRGB is plain numpy, because an inference calls it on 10⁵ colours at a time. All refuse
with `InputError` what is not made of finite triples.
"""

from __future__ import annotations

import re
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .._typing import FloatArray
from ..errors import InputError

# IEC 61966-2-1: primaries and white of sRGB, chromaticities x, y.
_PRIMARIES_XY = np.array([[0.64, 0.33], [0.30, 0.60], [0.15, 0.06]])
_WHITE_XY = np.array([0.3127, 0.3290])


def _from_xy(xy: FloatArray) -> FloatArray:
    return np.stack([xy[..., 0], xy[..., 1], 1.0 - xy[..., 0] - xy[..., 1]], -1) / xy[..., 1:]


SRGB_WHITE_XYZ: FloatArray = 100.0 * _from_xy(_WHITE_XY)
"""XYZ of the sRGB white, D65 as IEC 61966-2-1 rounds it."""

_TO_XYZ = _from_xy(_PRIMARIES_XY).T * np.linalg.solve(_from_xy(_PRIMARIES_XY).T, SRGB_WHITE_XYZ)
_FROM_XYZ = np.linalg.inv(_TO_XYZ)

# Bradford cone responses (Lam 1985, as in the ICC specification, annex E).
BRADFORD = np.array(
    [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
)
_FROM_CONES = np.linalg.inv(BRADFORD)

# OKLab as CSS Color 4 gives it: the matrices of Ottosson (2020) recomputed for that D65.
_XYZ_TO_LMS = np.array(
    [
        [0.8190224379967030, 0.3619062600528904, -0.1288737815209879],
        [0.0329836539323885, 0.9292868615863434, 0.0361446663506424],
        [0.0481771893596242, 0.2642395317527308, 0.6335478284694309],
    ]
)
LMS_TO_OKLAB = np.array(
    [
        [0.2104542683093140, 0.7936177747023054, -0.0040720430116193],
        [1.9779985324311684, -2.4285922420485799, 0.4505937096174110],
        [0.0259040424655478, 0.7827717124575296, -0.8086757549230774],
    ]
)
LINEAR_TO_LMS = _XYZ_TO_LMS @ _TO_XYZ / 100.0
LMS_TO_LINEAR = np.linalg.inv(LINEAR_TO_LMS)
OKLAB_TO_LMS = np.linalg.inv(LMS_TO_OKLAB)

# CIE 15: the cube root gives way to a straight line below (6/29)³.
_LAB_CUT = (6.0 / 29.0) ** 3
_LAB_SLOPE = (29.0 / 6.0) ** 2 / 3.0
_FEW, _LARGE = 1_500, 1e30  # numbers for which numpy's cube root serves; beyond single precision
_AT_A_TIME = 8_192  # numbers that stay in cache

# IEC 61966-2-1: the straight part of the transfer curve.
_ENCODE_CUT, _DECODE_CUT, _LINEAR_SLOPE = 0.0031308, 0.04045, 12.92


def check_components(values: ArrayLike, what: str) -> FloatArray:
    """Colours as a float array; `InputError` unless the last axis is three finite numbers."""
    array = np.asarray(values, dtype=np.float64)
    if array.ndim == 0 or array.shape[-1] != 3:
        raise InputError(
            f"{what} must have 3 components on its last axis; its shape is {array.shape}"
        )
    finite = np.isfinite(array)
    if not finite.all():
        raise InputError(
            f"{what} must be finite numbers; {(~finite).sum()} of {array.size} are not"
        )
    return array


def xyz_to_lab(xyz: ArrayLike, white_xyz: ArrayLike) -> FloatArray:
    """CIELAB of tristimulus values, shapes (..., 3), against a white (3,) or (..., 3).

    ``L* = 116 f(Y/Yn) - 16``, ``a* = 500 (f(X/Xn) - f(Y/Yn))`` and
    ``b* = 200 (f(Y/Yn) - f(Z/Zn))`` with CIE 15's f.
    """
    ratio = check_components(xyz, "xyz") / check_components(white_xyz, "white_xyz")
    f = _cube_root(np.maximum(ratio, _LAB_CUT))
    if ratio.min(initial=1.0) < _LAB_CUT:
        f = np.where(ratio > _LAB_CUT, f, _LAB_SLOPE * ratio + 4.0 / 29.0)
    x, y, z = f[..., 0], f[..., 1], f[..., 2]
    lab = np.empty_like(f)
    lab[..., 0], lab[..., 1], lab[..., 2] = 116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z)
    return lab


def lab_slope(ratio: FloatArray) -> FloatArray:
    """``f'`` of CIE 15's f, which falls from its value for black."""
    return np.asarray(np.maximum(ratio, _LAB_CUT) ** (-2.0 / 3.0) / 3.0)


def _cube_root(x: FloatArray) -> FloatArray:
    """Cube roots of numbers well above 0, to the last digit but one.

    Of many, from single precision by one step of Halley's, which triples the digits: in a third of
    the time of numpy's, which takes them number by number.
    """
    if x.size < _FEW or x.max() > _LARGE:
        return np.asarray(np.cbrt(x))
    roots = np.empty_like(x)
    flat, found = x.ravel(order="K"), roots.ravel(order="K")
    for start in range(0, x.size, _AT_A_TIME):
        one = flat[start : start + _AT_A_TIME]
        root = found[start : start + _AT_A_TIME]
        single = np.log(one.astype(np.float32))
        single *= np.float32(1.0 / 3.0)
        root[:] = np.exp(single, out=single)
        cube = root * root
        cube *= root
        over = cube + one
        cube += over  # 2 y³ + x
        over += one  # y³ + 2 x
        root *= over
        root /= cube
    return roots


def lab_to_xyz(lab: ArrayLike, white_xyz: ArrayLike) -> FloatArray:
    """The inverse of `xyz_to_lab`, shapes (..., 3)."""
    lab = check_components(lab, "lab")
    y = (lab[..., 0] + 16.0) / 116.0
    f = np.stack([y + lab[..., 1] / 500.0, y, y - lab[..., 2] / 200.0], axis=-1)
    ratio: FloatArray = np.where(f > 6.0 / 29.0, f**3, (f - 4.0 / 29.0) / _LAB_SLOPE)
    return ratio * check_components(white_xyz, "white_xyz")


def xyz_to_srgb_linear(xyz: ArrayLike, white_xyz: ArrayLike) -> FloatArray:
    """Linear sRGB of tristimulus values, shapes (..., 3), seen under a light with its white (3,).

    Bradford adaptation carries that white to the one of sRGB, so the perfect mirror is 1, 1, 1
    under any light. Leaves 0..1 for colours that sRGB cannot show.
    """
    adapted = _adapt(tuple(check_components(white_xyz, "white_xyz").tolist()))
    linear: FloatArray = check_components(xyz, "xyz") @ adapted
    return linear


@lru_cache(maxsize=64)
def _adapt(white_xyz: tuple[float, ...]) -> FloatArray:
    """Matrix (3, 3) from tristimulus values under a light with that white to linear sRGB."""
    gain = (BRADFORD @ SRGB_WHITE_XYZ) / (BRADFORD @ white_xyz)
    matrix: FloatArray = _FROM_XYZ @ _FROM_CONES @ (gain[:, None] * BRADFORD)
    return matrix.T


def srgb_encode(linear: ArrayLike) -> FloatArray:
    """Encoded sRGB of linear light, any shape, by the curve of IEC 61966-2-1.

    Negative light is mirrored (the curve of the absolute value with the sign kept), as
    CSS Color 4 does, so that unmapped colours survive a round trip.
    """
    linear = _check_finite(linear, "linear")
    size = np.abs(linear)
    curve = 1.055 * np.maximum(size, _ENCODE_CUT) ** (1.0 / 2.4) - 0.055
    return np.copysign(np.where(size > _ENCODE_CUT, curve, _LINEAR_SLOPE * size), linear)


def srgb_decode(encoded: ArrayLike) -> FloatArray:
    """Linear light of encoded sRGB, any shape; the inverse of `srgb_encode`."""
    encoded = _check_finite(encoded, "encoded")
    size = np.abs(encoded)
    curve = ((size + 0.055) / 1.055) ** 2.4
    return np.copysign(np.where(size > _DECODE_CUT, curve, size / _LINEAR_SLOPE), encoded)


def srgb_to_hex(srgb: ArrayLike) -> NDArray[np.str_]:
    """``#rrggbb`` of encoded sRGB, shape (..., 3) to (...); `InputError` outside 0..1."""
    srgb = check_components(srgb, "srgb")
    if np.any((srgb < 0.0) | (srgb > 1.0)):
        raise InputError("srgb must lie between 0 and 1 to be written as hex; map it to sRGB first")
    byte = np.rint(srgb * 255.0).astype(np.int64)
    number = (byte[..., 0] << 16) | (byte[..., 1] << 8) | byte[..., 2]
    text = np.array([f"#{value:06x}" for value in number.ravel()], dtype="<U7")
    return text.reshape(number.shape)


def parse_hex(text: str) -> FloatArray:
    """Encoded sRGB, shape (3,), of ``#6a3fa0``, ``6a3fa0`` or ``#abc``; else `InputError`."""
    digits = text.strip().removeprefix("#")
    if not re.fullmatch(r"[0-9a-fA-F]{3}|[0-9a-fA-F]{6}", digits):
        raise InputError(f"a hex colour looks like #6a3fa0 or #abc; {text!r:.80} does not")
    if len(digits) == 3:
        digits = "".join(2 * digit for digit in digits)
    return np.array([int(digits[i : i + 2], 16) for i in (0, 2, 4)]) / 255.0


def srgb_to_xyz(srgb: ArrayLike) -> FloatArray:
    """XYZ (D65, Y = 100 for white) of encoded sRGB, shapes (..., 3)."""
    xyz: FloatArray = srgb_decode(check_components(srgb, "srgb")) @ _TO_XYZ.T
    return xyz


def srgb_to_lab(srgb: ArrayLike) -> FloatArray:
    """CIELAB (D65, 2 degree observer; white is 100, 0, 0) of encoded sRGB, shapes (..., 3)."""
    return xyz_to_lab(srgb_to_xyz(srgb), SRGB_WHITE_XYZ)


def srgb_linear_to_oklab(linear: ArrayLike) -> FloatArray:
    """OKLab of linear sRGB, shapes (..., 3); colours outside the gamut are welcome."""
    cones = np.cbrt(check_components(linear, "linear") @ LINEAR_TO_LMS.T)
    return np.asarray(cones @ LMS_TO_OKLAB.T)


def srgb_to_oklab(srgb: ArrayLike) -> FloatArray:
    """OKLab of encoded sRGB, shapes (..., 3)."""
    return srgb_linear_to_oklab(srgb_decode(check_components(srgb, "srgb")))


def oklab_to_srgb_linear(oklab: ArrayLike) -> FloatArray:
    """Linear sRGB of OKLab, shapes (..., 3); leaves 0..1 outside the gamut."""
    cones = (check_components(oklab, "oklab") @ OKLAB_TO_LMS.T) ** 3
    return np.asarray(cones @ LMS_TO_LINEAR.T)


def oklab_to_oklch(oklab: ArrayLike) -> FloatArray:
    """Lightness, chroma and hue angle [0..360 degrees) of OKLab, shapes (..., 3)."""
    oklab = check_components(oklab, "oklab")
    hue_deg = np.degrees(np.arctan2(oklab[..., 2], oklab[..., 1])) % 360.0
    chroma = np.hypot(oklab[..., 1], oklab[..., 2])
    return np.stack([oklab[..., 0], chroma, np.where(hue_deg == 360.0, 0.0, hue_deg)], axis=-1)


def oklch_to_oklab(oklch: ArrayLike) -> FloatArray:
    """OKLab of lightness, chroma and hue angle [degrees], shapes (..., 3)."""
    oklch = check_components(oklch, "oklch")
    hue = np.radians(oklch[..., 2])
    across = oklch[..., 1]
    return np.stack([oklch[..., 0], across * np.cos(hue), across * np.sin(hue)], axis=-1)


def delta_e_2000(lab: ArrayLike, other_lab: ArrayLike) -> FloatArray:
    """CIEDE2000 difference of CIELAB colours (..., 3), to (...): ISO/CIE 11664-6, symbols as there.

    Written out, for importing colour-science costs more than most questions.
    """
    one, two = np.broadcast_arrays(
        check_components(lab, "lab"), check_components(other_lab, "other_lab")
    )
    L, a, b = np.moveaxis(np.stack([one, two]), -1, 0)  # each (2, ...), one and the other
    G = 0.5 * (1.0 - np.sqrt(_seventh_share(np.hypot(a, b).mean(axis=0))))
    a = (1.0 + G) * a
    C, h = np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360.0
    grey = (C == 0.0).any(axis=0)  # then there is no hue to differ
    apart = h[1] - h[0]
    far = np.abs(apart) > 180.0  # opposite hues keep their sign, or the order would count
    turn = np.where(grey, 0.0, np.where(far, apart - np.copysign(360.0, apart), apart))
    across = np.where(far, 180.0, 0.0)
    mean_h = np.where(grey, h.sum(axis=0), (h.mean(axis=0) + across) % 360.0)
    mean_L, mean_C = L.mean(axis=0), C.mean(axis=0)

    def cos(degrees: FloatArray) -> FloatArray:
        return np.asarray(np.cos(np.radians(degrees)))

    T = (
        1.0 - 0.17 * cos(mean_h - 30.0) + 0.24 * cos(2.0 * mean_h)
        + 0.32 * cos(3.0 * mean_h + 6.0) - 0.20 * cos(4.0 * mean_h - 63.0)
    )  # fmt: skip
    S_L = 1.0 + 0.015 * (mean_L - 50.0) ** 2 / np.sqrt(20.0 + (mean_L - 50.0) ** 2)
    S_C, S_H = 1.0 + 0.045 * mean_C, 1.0 + 0.015 * mean_C * T
    theta = np.radians(30.0 * np.exp(-(((mean_h - 275.0) / 25.0) ** 2)))
    R_T = -2.0 * np.sqrt(_seventh_share(mean_C)) * np.sin(2.0 * theta)
    dL, dC = (L[1] - L[0]) / S_L, (C[1] - C[0]) / S_C
    dH = 2.0 * np.sqrt(C[0]) * np.sqrt(C[1]) * np.sin(np.radians(0.5 * turn)) / S_H
    return np.asarray(np.sqrt(dL * dL + dC * dC + dH * dH + R_T * dC * dH))


def _seventh_share(chroma: FloatArray) -> FloatArray:
    """``C⁷/(C⁷ + 25⁷)``, for any size of C."""
    with np.errstate(divide="ignore", over="ignore"):
        return np.asarray(1.0 / (1.0 + (25.0 / chroma) ** 7))


def delta_e_76(lab: ArrayLike, other_lab: ArrayLike) -> FloatArray:
    """Euclidean distance in CIELAB, shapes (..., 3), to (...)."""
    gap = check_components(lab, "lab") - check_components(other_lab, "other_lab")
    distance: FloatArray = np.sqrt((gap**2).sum(axis=-1))
    return distance


def _check_finite(values: ArrayLike, what: str) -> FloatArray:
    array = np.asarray(values, dtype=np.float64)
    if not np.all(np.isfinite(array)):
        raise InputError(f"{what} must be finite numbers")
    return array
