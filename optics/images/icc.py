"""What the code values of a picture mean: from codes to linear sRGB light."""

from __future__ import annotations

import struct
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from .._typing import FloatArray, SingleArray
from ..colour.spaces import srgb_decode, xyz_to_srgb_linear
from ..errors import InputError

Curve: TypeAlias = Callable[[FloatArray], FloatArray]

# ICC.1:2022, 7.2.16: the white of the profile connection space, D50 as the header rounds it.
_CONNECTION_WHITE_XYZ = np.array([0.9642, 1.0, 0.8249])
_D65_XY = (0.3127, 0.3290)
# IEC 61966-2-5, chromaticities of opRGB; the exponent 2 + 51/256 is the one in use.
_OPRGB_XY = ((0.64, 0.33), (0.21, 0.71), (0.15, 0.06))
_OPRGB_GAMMA = 563.0 / 256.0
# ITU-T H.273, tables 2 and 3: primaries 1 are those of sRGB, 12 those of P3 with white D65, 2 is
# "unspecified"; transfer curves 16 and 18 are the two for high dynamic range.
_H273_SRGB, _H273_P3, _H273_HDR = (1, 2), 12, (16, 18)
_H273_SRGB_CURVE, _H273_POWERS = 13, {4: 2.2, 5: 2.8, 8: 1.0}  # ITU-T H.273, table 3
_P3_XY = ((0.680, 0.320), (0.265, 0.690), (0.150, 0.060))
# PNG third edition, 11.3.2: what a file in sRGB states where a decoder knows gamma alone.
_PNG_SRGB_GAMMA, _SAME = 0.45455, 0.005
_PARAMETERS = {0: 1, 1: 3, 2: 4, 3: 5, 4: 7}


@dataclass(frozen=True, eq=False)
class Encoding:
    """A transfer curve for each channel, then a matrix.

    Attributes
    ----------
    name : str
        For people.
    curves : tuple of 3 callables
        Code as a share of the top code (0..1) to the channel's linear light (0..1).
    matrix : ndarray, shape (3, 3)
        Linear light of the channels to linear sRGB; white stays white.
    """

    name: str
    curves: tuple[Curve, Curve, Curve]
    matrix: FloatArray

    def to_linear(self, codes: NDArray[np.uint8] | NDArray[np.uint16]) -> SingleArray:
        """Linear sRGB, shape (..., 3), of codes of shape (..., 3), 8 or 16 bits each.

        Colours that sRGB cannot show leave 0..1; nothing is clipped.
        """
        tables = self._tables(np.iinfo(codes.dtype).max)
        light = np.stack([tables[c][codes[..., c]] for c in range(3)], axis=-1)
        if self.matrix is SRGB.matrix:
            return light
        linear: SingleArray = light @ self.matrix.T.astype(np.float32)
        return linear

    def _tables(self, top: int) -> list[SingleArray]:
        share = np.arange(top + 1) / top
        return [curve(share).astype(np.float32) for curve in self.curves]


SRGB = Encoding("sRGB", (srgb_decode, srgb_decode, srgb_decode), np.eye(3))
"""IEC 61966-2-1: what a picture that states nothing is taken to be."""


def encoding_from_primaries(
    name: str, primaries_xy: ArrayLike, white_xy: ArrayLike, *, curve: Curve
) -> Encoding:
    """An encoding by the chromaticities of its primaries, shape (3, 2), and of its white, (2,).

    Raises
    ------
    InputError
        If the four do not span a colour space.
    """
    xy = np.vstack([np.asarray(primaries_xy, float), np.asarray(white_xy, float)])
    if not (np.all(np.isfinite(xy)) and np.all(xy[:, 1] > 0.0)):
        raise InputError(f"{name} has primaries that are no colours")
    xyz = np.column_stack([xy, 1.0 - xy.sum(axis=1)]) / xy[:, 1:]
    if abs(np.linalg.det(xyz[:3])) < 1e-3:
        raise InputError(f"{name} has primaries that span no colour space")
    columns = xyz[:3].T * np.linalg.solve(xyz[:3].T, xyz[3])
    return Encoding(name, (curve, curve, curve), _matrix(columns, xyz[3]))


def _matrix(columns_xyz: FloatArray, white_xyz: FloatArray) -> FloatArray:
    """Matrix to linear sRGB from the XYZ of the three primaries (columns) and their white."""
    return xyz_to_srgb_linear(100.0 * columns_xyz.T, 100.0 * white_xyz).T


def power(exponent: float) -> Curve:
    """The curve ``light = code ** exponent``."""
    return lambda share: np.asarray(share**exponent)


def find_stated_encoding(info: Mapping[Any, Any], opens_as_oprgb: bool = False) -> Encoding:
    """The encoding that a picture without a profile states by other means; sRGB if by none.

    Parameters
    ----------
    info : mapping
        As Pillow gives it: ``srgb``, ``gamma`` and ``chromaticity`` of a PNG, ``nclx_profile``
        of a HEIC.
    opens_as_oprgb : bool
        The EXIF interoperability index is R03, by which a camera states opRGB (Adobe RGB).

    Raises
    ------
    InputError
        If it states a high dynamic range or primaries we do not know.
    """
    if opens_as_oprgb:
        return encoding_from_primaries("opRGB", _OPRGB_XY, _D65_XY, curve=power(_OPRGB_GAMMA))
    if nclx := info.get("nclx_profile"):
        return _from_h273(nclx)
    gamma, xy = info.get("gamma"), info.get("chromaticity")
    if "srgb" in info or (gamma is None and xy is None):
        return SRGB
    exponent = _PNG_SRGB_GAMMA if gamma is None else float(gamma)
    if not 0.05 < exponent <= 1.5:
        raise InputError(f"it states a gamma of {exponent:g}, which no picture has")
    usual = abs(exponent - _PNG_SRGB_GAMMA) < _SAME
    curve = srgb_decode if usual else power(1.0 / exponent)
    name = f"its stated gamma of {exponent:.3g}"
    if xy is None:
        return SRGB if usual else Encoding(name, (curve, curve, curve), SRGB.matrix)
    points = np.reshape(np.asarray(xy, float), (4, 2))
    stated = encoding_from_primaries("its stated primaries", points[1:], points[0], curve=curve)
    alike = usual and np.allclose(stated.matrix, SRGB.matrix, rtol=0.0, atol=_SAME)
    return SRGB if alike else stated


def _from_h273(nclx: Mapping[str, Any]) -> Encoding:
    if nclx.get("transfer_characteristics") in _H273_HDR:
        raise InputError("it is a high-dynamic-range picture; export it in sRGB")
    primaries = nclx.get("color_primaries")
    if primaries == _H273_P3:
        return encoding_from_primaries("P3 with white D65", _P3_XY, _D65_XY, curve=srgb_decode)
    if primaries in _H273_SRGB:
        return SRGB
    raise InputError("it states primaries we do not know; export it in sRGB")


def encoding_of_cicp(chunk: bytes) -> Encoding:
    """The encoding that the ``cICP`` chunk of a PNG states by the numbers of ITU-T H.273.

    Raises
    ------
    InputError
        If it states a high dynamic range, narrow range, or numbers we do not know.
    """
    if len(chunk) != 4:
        raise InputError("its cICP chunk is damaged; export it in sRGB")
    primaries, transfer, matrix, full = chunk
    if matrix != 0 or full != 1:
        raise InputError("it stores video levels (cICP), not full RGB; export it in sRGB")
    stated = _from_h273({"transfer_characteristics": transfer, "color_primaries": primaries})
    if transfer == _H273_SRGB_CURVE:
        return stated
    if transfer not in _H273_POWERS:
        raise InputError("it states a transfer curve we do not know (cICP); export it in sRGB")
    curve = power(_H273_POWERS[transfer])
    return Encoding(f"its stated gamma of {_H273_POWERS[transfer]:g}", (curve,) * 3, stated.matrix)


def encoding_of_profile(profile: bytes, name: str) -> Encoding | None:
    """The encoding an ICC profile describes by curves and a matrix.

    Parameters
    ----------
    profile : bytes
        The whole profile.
    name : str
        For people.

    Returns
    -------
    Encoding or None
        None if the profile is not for RGB, or works by tables instead.

    Raises
    ------
    InputError
        If the profile is damaged.

    Notes
    -----
    ICC.1:2022, annex F.3: ``XYZ(D50) = [r g b] curve(code)``; the Bradford transform carries
    D50 to D65. Done here and not by LittleCMS because Pillow passes it 8 bits a channel and
    takes back no colour outside sRGB.
    """
    if profile[36:40] != b"acsp":
        raise InputError("its embedded colour profile is damaged")
    if profile[16:24] != b"RGB XYZ ":
        return None
    try:
        tags = _read_tags(profile)
        if "A2B0" in tags or not {"rXYZ", "gXYZ", "bXYZ"} <= set(tags):
            return None
        columns = np.array([_read_xyz(tags[c + "XYZ"]) for c in "rgb"]).T
        red, green, blue = (_read_curve(tags[c + "TRC"]) for c in "rgb")
    except (struct.error, KeyError, ValueError) as error:
        raise InputError("its embedded colour profile is damaged") from error
    if np.any(np.abs(columns.sum(axis=1) - _CONNECTION_WHITE_XYZ) > 0.02):
        raise InputError("its embedded colour profile is damaged: its primaries make no white")
    return Encoding(name, (red, green, blue), _matrix(columns, columns.sum(axis=1)))


def _read_tags(profile: bytes) -> dict[str, bytes]:
    (count,) = struct.unpack_from(">I", profile, 128)
    tags = {}
    for i in range(min(count, 200)):
        sign, start, size = struct.unpack_from(">4sII", profile, 132 + 12 * i)
        tags[sign.decode("latin-1")] = profile[start : start + size]
    return tags


def _read_fixed(data: bytes, at: int, count: int) -> list[float]:
    """Numbers of type s15Fixed16."""
    return [value / 65536.0 for value in struct.unpack_from(f">{count}i", data, at)]


def _read_xyz(tag: bytes) -> list[float]:
    return _read_fixed(tag, 8, 3)


def _read_curve(tag: bytes) -> Curve:
    if tag[:4] == b"para":
        kind = struct.unpack_from(">H", tag, 8)[0]
        return _parametric_curve(kind, _read_fixed(tag, 12, _PARAMETERS[kind]))
    if tag[:4] != b"curv":
        raise ValueError("neither of the two types of curve")
    (count,) = struct.unpack_from(">I", tag, 8)
    if count == 0:
        return power(1.0)
    if count == 1:
        return power(struct.unpack_from(">H", tag, 12)[0] / 256.0)
    table = np.frombuffer(tag, ">u2", count=count, offset=12) / 65535.0
    return lambda share: np.interp(share, np.linspace(0.0, 1.0, count), table)


def _parametric_curve(kind: int, given: list[float]) -> Curve:
    """The five functions of ICC.1:2022, table 68, as ``(a x + b)^g + e`` from d, else c x + f."""
    g, a, b, c, d, e, f = 1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0
    if kind in (3, 4):
        g, a, b, c, d, e, f = [*given, 0.0, 0.0][:7]
    elif kind in (1, 2):
        g, a, b, e = [*given, 0.0][:4]
        f, d = e, (-b / a if a else 0.0)
    else:
        g = given[0]

    def curve(share: FloatArray) -> FloatArray:
        bent = np.maximum(a * share + b, 0.0) ** g + e
        return np.clip(np.where(share >= d, bent, c * share + f), 0.0, 1.0)

    return curve
