"""Files of pictures to arrays of code values, by way of Pillow, with nothing lost unsaid."""

from __future__ import annotations

import logging
import os
import stat
import struct
import sys
import threading
import warnings
import zlib
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass
from importlib import import_module
from io import BytesIO
from pathlib import Path
from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms, UnidentifiedImageError

from .._typing import BoolArray
from ..errors import InputError, LimitError, shorten
from .icc import (
    SRGB,
    Encoding,
    encoding_of_cicp,
    encoding_of_profile,
    find_stated_encoding,
)

CodeArray: TypeAlias = NDArray[np.uint8] | NDArray[np.uint16]

MAX_BYTES = 200_000_000
"""The largest file that is opened."""

MAX_PIXELS = 100_000_000
"""The largest picture that is decoded, by what its header says."""

# Pillow tells a log of what it cannot decode as well as raising it; without a handler of anybody's
# Python would print that.
logging.getLogger("PIL").addHandler(logging.NullHandler())

_FORMATS = ("JPEG", "MPO", "PNG", "TIFF", "WEBP", "GIF", "BMP")
# ISO/IEC 23008-12: the brands of a HEIF file holding HEVC stills or a collection of them.
_HEIF_BRANDS = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1")
# TIFF 6.0, section 2, and its successor of eight bytes an offset.
_TIFF_STARTS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_GREY_MODES = ("1", "L", "LA", "La", "I", "F", "I;16", "I;16L", "I;16B", "I;16N")
# What decoders fed with foreign bytes raise; a NameError and the like would be a bug of ours.
_UNDECODABLE = (
    *(OSError, SyntaxError, ValueError, EOFError, RuntimeError, LookupError, TypeError),
    *(ArithmeticError, MemoryError, struct.error, zlib.error),
)
_ORIENTATION, _EXIF, _INTEROPERABILITY = 0x0112, 0x8769, 0xA005
_PLANES, _BITS = 284, 258
_PIXELS_AT_ONCE = 1 << 20
_SAVE_AS = "save it as an RGB picture in sRGB"
_STDERR = 2
_ONE_AT_A_TIME = threading.Lock()


@dataclass(frozen=True, eq=False)
class DecodedPicture:
    """Codes as stored, turned upright.

    Attributes
    ----------
    values : ndarray of uint8 or uint16, shape (H, W, 3)
    valid : ndarray of bool, shape (H, W)
        Where nothing shines through.
    encoding : Encoding
    notes : tuple of str
    """

    values: CodeArray
    valid: BoolArray
    encoding: Encoding
    notes: tuple[str, ...]


def decode(path: Path) -> DecodedPicture:
    """Decode a picture.

    Raises
    ------
    InputError
        If there is no such file, or it is no picture of a kind we read, or damaged.
    LimitError
        If the file or the picture is larger than the limits.
    """
    _check_file(path)
    with _refuse_broken(path):
        with path.open("rb") as stream:
            start = stream.read(12)
        if _is_heif(start):
            return _decode_heif(path)
        with silence_libraries() if start[:4] in _TIFF_STARTS else nullcontext():
            return _decode_pillow(path)


def check_pixels(path: Path, most: int, most_deep: int) -> None:
    """Refuse by its header a picture that would take much memory to decode.

    Parameters
    ----------
    path : Path
    most, most_deep : int
        Most pixels of 8 and of 16 bits a channel.

    Raises
    ------
    InputError
        If it is no picture of a kind we read.
    LimitError
        If it is larger.
    """
    _check_file(path)
    with _refuse_broken(path):
        with path.open("rb") as stream:
            start = stream.read(12)
        if _is_heif(start):
            size, deep = _heif().open_heif(path).size, False  # of its bits no header tells
        else:
            with _open(path) as image:
                size, deep = image.size, ";16" in _raw_mode(image)
        limit = most_deep if deep else most
        if size[0] * size[1] > limit:
            bits = " of 16 bits a channel" if deep else ""
            raise LimitError(f"has more than {limit // 1_000_000} megapixels{bits}; scale it down")


def format_of(path: Path) -> str:
    """What a picture is stored as, by its head: one of the formats read, or HEIF.

    Raises
    ------
    InputError
        If it is no picture of a kind we read.
    """
    with _refuse_broken(path):
        with path.open("rb") as stream:
            start = stream.read(12)
        if _is_heif(start):
            return "HEIF"
        with _open(path) as image:
            return image.format or ""


def _check_file(path: Path) -> None:
    try:
        kind = path.stat()
    except (OSError, ValueError) as error:
        raise InputError(f"there is no picture {str(path)!r} that can be opened") from error
    if not stat.S_ISREG(kind.st_mode):
        raise InputError(f"{str(path)!r} is not a file; name a picture")
    size = kind.st_size
    if size == 0:
        raise InputError(f"the picture {str(path)!r} is empty")
    if size > MAX_BYTES:
        raise LimitError(
            f"the picture {str(path)!r} has {size / 1e6:.0f} MB; at most {MAX_BYTES / 1e6:.0f} MB "
            "are read, so save it smaller"
        )


@contextmanager
def _refuse_broken(path: Path) -> Iterator[None]:
    """Refuse what the decoders choke on in one sentence, and keep their warnings in."""
    name = f"the picture {str(path)!r}"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        try:
            yield
        except LimitError as error:
            raise LimitError(f"{name} {error}") from error
        except InputError as error:
            raise InputError(f"{name} cannot be read: {error}") from error
        except UnidentifiedImageError as error:
            raise InputError(
                f"{name} is not a JPEG, PNG, TIFF, WebP, GIF, BMP or HEIC that can be read"
            ) from error
        except PermissionError as error:
            raise InputError(f"{name} cannot be read: permission denied") from error
        except Image.DecompressionBombError as error:
            raise LimitError(_too_many(name)) from error
        except _UNDECODABLE as error:
            raise InputError(f"{name} is damaged or cut off: its pixels do not decode") from error


def _too_many(name: str = "") -> str:
    return f"{name} has more than {MAX_PIXELS // 1_000_000} megapixels; scale it down".strip()


def _check_size(size: tuple[int, int]) -> None:
    if size[0] * size[1] > MAX_PIXELS:
        raise LimitError(_too_many())


def _decode_pillow(path: Path) -> DecodedPicture:
    with _open(path) as image:
        if image.format == "PNG":
            _check_sums(path)
            image.info["cicp"] = _find_cicp(path)
        several = bool(getattr(image, "is_animated", False))
        _check_mode(image)
        deep = _is_deep(image)
        low = _low_bytes(path) if deep and image.mode != "CMYK" else None
        # A TIFF is turned as it loads; a PNG may state its orientation behind the pixels.
        turns_itself = image.format == "TIFF"
        orientation = _orientation(image) if turns_itself else 1
        image.load()
        orientation = orientation if turns_itself else _orientation(image)
        notes = ["it holds more than one picture; the first is read"] if several else []
        if orientation != 1:
            notes.append("turned upright by its EXIF orientation")
        values, opaque, encoding = _read_codes(image, low, deep, notes)
        return _finish(values, opaque, encoding, notes, 1 if turns_itself else orientation)


def _finish(
    values: CodeArray,
    opaque: BoolArray | None,
    encoding: Encoding,
    notes: list[str],
    orientation: int = 1,
) -> DecodedPicture:
    """Upright, with what is transparent or looks odd said."""
    values = np.ascontiguousarray(_turn_upright(values, orientation))
    if opaque is None or opaque.all():
        valid = np.ones(values.shape[:2], dtype=np.bool_)
    else:
        valid = np.ascontiguousarray(_turn_upright(opaque, orientation))
        notes.append("transparent parts left out")
    if _is_neutral(values):
        notes.append("every pixel is grey: it looks like a picture whose colours were taken out")
    return DecodedPicture(values, valid, encoding, tuple(notes))


def bands_of(values: CodeArray) -> Iterator[slice]:
    """Bands of rows small enough to keep intermediate results small."""
    rows = max(1, _PIXELS_AT_ONCE // values.shape[1])
    return (slice(top, top + rows) for top in range(0, values.shape[0], rows))


def _is_neutral(values: CodeArray) -> bool:
    """Whether the three channels are equal everywhere; a picture in colour shows it at once."""
    return all(
        np.array_equal(values[rows, :, 0], values[rows, :, c])
        for rows in bands_of(values)
        for c in (1, 2)
    )


def _turn_upright(pixels: CodeArray | BoolArray, orientation: int) -> NDArray[Any]:
    """Pixels turned as the EXIF orientation says (Exif 2.32, tag 0x0112)."""
    if orientation >= 5:
        pixels = np.swapaxes(pixels, 0, 1)
    flip_rows = orientation in (3, 4, 7, 8)
    flip_columns = orientation in (2, 3, 6, 7)
    return pixels[:: -1 if flip_rows else 1, :: -1 if flip_columns else 1]


@contextmanager
def _open(path: Path) -> Iterator[Image.Image]:
    Image.preinit()  # `init` would load 40 kinds more; these two bring in what is left of ours
    import_module("PIL.TiffImagePlugin")
    import_module("PIL.WebPImagePlugin")
    formats = [name for name in _FORMATS if name in Image.OPEN]
    # Opened by us, the file is closed however Pillow fails.
    with path.open("rb") as stream, Image.open(stream, formats=formats) as image:
        _check_size(image.size)
        yield image


def _check_sums(path: Path) -> None:
    """Check the checksums of a PNG, which decoding passes over."""
    with _open(path) as image:
        image.verify()


def _find_cicp(path: Path) -> bytes | None:
    """The ``cICP`` chunk of a PNG, which stands ahead of its pixels (W3C PNG, 3rd ed., 11.3)."""
    with path.open("rb") as stream:
        stream.seek(8)
        while len(head := stream.read(8)) == 8:
            size, kind = int.from_bytes(head[:4], "big"), head[4:]
            if kind == b"cICP":
                return stream.read(min(size, 5))
            if kind == b"IDAT":
                return None
            stream.seek(size + 4, os.SEEK_CUR)
    return None


def _check_mode(image: Image.Image) -> None:
    # Pillow opens grey with alpha in 16 bits as RGBA; only the raw mode tells.
    if image.mode in _GREY_MODES or _raw_mode(image).split(";")[0] == "LA":
        raise InputError("it is grey and carries no colour; take one in colour")
    if image.mode not in ("RGB", "RGBA", "RGBX", "P", "PA", "CMYK", "YCbCr"):
        raise InputError(f"its colours are stored as {image.mode}; {_SAVE_AS}")


def _raw_mode(image: Image.Image) -> str:
    """How the file stores its pixels, as Pillow writes it: ``RGB;16B``."""
    tiles: Any = getattr(image, "tile", [])
    return _raw_of(tiles[0][3]) if tiles else ""


def _raw_of(args: Any) -> str:
    raw = args[0] if isinstance(args, tuple) and args else args
    return raw if isinstance(raw, str) else ""


def _is_deep(image: Image.Image) -> bool:
    """Whether the file holds 16 bits a channel, of which Pillow by itself keeps 8."""
    raw = _raw_mode(image)
    tags: Any = getattr(image, "tag_v2", {})
    if max(tags.get(_BITS, (8,))) > 8 and (tags.get(_PLANES, 1) == 2 or ";16" not in raw):
        raise InputError(f"it stores more than 8 bits in an uncommon way; {_SAVE_AS}")
    return ";16" in raw


def _low_bytes(path: Path) -> NDArray[np.uint8]:
    """The lower byte of each 16-bit code, shape (H, W, C).

    Pillow's unpackers keep the upper byte of each pair. Told the opposite byte order they keep
    the lower one, so that a second decoding brings what the first leaves out.
    """
    with _open(path) as image:
        tiles: Any = getattr(image, "tile", [])
        setattr(image, "tile", [_swap_bytes(tile) for tile in tiles])  # noqa: B010 -- not in its type
        image.load()  # numpy takes some failures in here for a picture without pixels
        return np.array(image)


def _swap_bytes(tile: Any) -> Any:
    """A tile of Pillow's (a plain tuple before version 11) to be read in the other byte order."""
    args = tile[3]
    raw = _raw_of(args).replace("RGBa", "RGBA")
    native = "B" if sys.byteorder == "little" else "L"
    raw = raw[:-1] + {"B": "L", "L": "B", "N": native}[raw[-1]]
    args = (raw, *args[1:]) if isinstance(args, tuple) else raw
    return tile._replace(args=args) if hasattr(tile, "_replace") else (*tile[:3], args)


def _orientation(image: Image.Image) -> int:
    value = image.getexif().get(_ORIENTATION, 1)
    return value if isinstance(value, int) and 1 <= value <= 8 else 1


def _read_codes(
    image: Image.Image, low: NDArray[np.uint8] | None, deep: bool, notes: list[str]
) -> tuple[CodeArray, BoolArray | None, Encoding]:
    """Codes, the opaque pixels and the encoding of a loaded picture."""
    profile: bytes = image.info.get("icc_profile") or b""
    if image.mode == "CMYK" and not profile:
        raise InputError(f"it is in CMYK without a profile; {_SAVE_AS}")
    encoding = _encoding(image, profile, _opens_as_oprgb(image), notes)
    key = image.info.get("transparency")
    if image.mode in ("P", "PA"):
        image = image.convert("RGB" if key is None and image.mode == "P" else "RGBA")
        notes.append("its palette was resolved")
        key = None
    elif image.mode == "YCbCr":
        image = image.convert("RGB")
    opaque = np.asarray(image.getchannel("A")) == 255 if image.mode == "RGBA" else None
    if encoding is None:
        if deep:
            notes.append("reduced from 16 to 8 bits a channel to pass its profile")
        low, encoding, image = None, SRGB, _convert_by_tables(image, profile)
    values = np.asarray(image)[..., :3]
    if low is not None:
        values = _join_bytes(values, low)
        if opaque is not None:
            opaque &= low[..., 3] == 255
    if isinstance(key, tuple):
        opaque = np.any(values != np.array(key, dtype=values.dtype), axis=-1)
    return values, opaque, encoding


def _opens_as_oprgb(image: Image.Image) -> bool:
    """Whether the EXIF says R03: opRGB without a profile (DCF 2.0, optional file)."""
    exif = image.getexif()
    if _INTEROPERABILITY not in exif.get_ifd(_EXIF):
        return False
    index = exif.get_ifd(_INTEROPERABILITY).get(1)
    return isinstance(index, str) and index.startswith("R03")


def _join_bytes(high: NDArray[np.uint8], low: NDArray[np.uint8]) -> NDArray[np.uint16]:
    values = high.astype(np.uint16)
    values <<= 8
    values |= low[..., :3]
    return values


def _encoding(
    image: Any, profile: bytes | None, opens_as_oprgb: bool, notes: list[str]
) -> Encoding | None:
    """What the codes mean; None if only LittleCMS can tell."""
    if cicp := image.info.get("cicp"):  # it comes before a profile and all else a PNG may state
        encoding = encoding_of_cicp(cicp)
        if encoding is not SRGB:
            notes.append(f"converted from {encoding.name}")
        return encoding
    if not profile:
        encoding = find_stated_encoding(image.info, opens_as_oprgb)
        if encoding is not SRGB:
            notes.append(f"converted from {encoding.name}")
        return encoding
    name = _profile_name(profile)
    notes.append(f"converted from the embedded profile {name!r}")
    return None if image.mode == "CMYK" else encoding_of_profile(profile, name)


def _profile_name(profile: bytes) -> str:
    try:
        text = ImageCms.getProfileDescription(ImageCms.ImageCmsProfile(BytesIO(profile)))
    except (ImageCms.PyCMSError, OSError) as error:
        raise InputError("its embedded colour profile is damaged") from error
    return shorten("".join(c for c in text if c.isprintable()).strip() or "without a name", 50)


def _convert_by_tables(image: Image.Image, profile: bytes) -> Image.Image:
    """An 8-bit sRGB picture by LittleCMS, relative colorimetric: what fits into sRGB stays."""
    try:
        turned = ImageCms.profileToProfile(
            image if image.mode == "CMYK" else image.convert("RGB"),
            ImageCms.ImageCmsProfile(BytesIO(profile)),
            ImageCms.createProfile("sRGB"),
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
            outputMode="RGB",
        )
    except ImageCms.PyCMSError as error:
        raise InputError("its embedded colour profile does not fit its pixels") from error
    assert turned is not None  # only an in-place conversion returns nothing
    return turned


def _is_heif(start: bytes) -> bool:
    return start[4:8] == b"ftyp" and start[8:12] in _HEIF_BRANDS


def _decode_heif(path: Path) -> DecodedPicture:
    """Decode a HEIC with pillow-heif, which turns it upright itself; all its bits are kept."""
    files = _heif().open_heif(path, convert_hdr_to_8bit=False)
    picture = files[files.primary_index]
    _check_size(picture.size)
    if not picture.mode.startswith("RGB"):
        raise InputError("it is grey and carries no colour; take one in colour")
    values = np.array(picture)  # a copy: older readers free the pixels with their file
    opaque = values[..., 3] == np.iinfo(values.dtype).max if values.shape[-1] == 4 else None
    notes: list[str] = []
    encoding = _encoding_heif(picture, notes)
    return _finish(values[..., :3], opaque, encoding, notes)


def _heif() -> Any:
    """The reader of HEIC, which is an extra."""
    try:
        return import_module("pillow_heif")
    except ImportError as error:
        raise InputError(
            "HEIC needs the extra 'heif' (pip install 'oxhue[heif]'), or save it as JPEG"
        ) from error


def _encoding_heif(picture: Any, notes: list[str]) -> Encoding:
    encoding = _encoding(picture, picture.info.get("icc_profile"), False, notes)
    if encoding is None:
        raise InputError(f"its embedded profile works by tables; {_SAVE_AS}")
    return encoding


@contextmanager
def silence_libraries() -> Iterator[None]:
    """Send what is written to the process's second stream nowhere.

    libtiff reports damage there in its own words, ahead of the one sentence that a refusal is.
    The stream belongs to the whole process: other threads are silenced for as long, and wait
    here for their own turn.
    """
    with _ONE_AT_A_TIME:
        if sys.stderr is not None:
            sys.stderr.flush()
        try:
            kept = os.dup(_STDERR)
        except OSError:  # it is closed, so nothing can be said
            yield
            return
        try:
            nowhere = os.open(os.devnull, os.O_WRONLY)
            os.dup2(nowhere, _STDERR)
            os.close(nowhere)
            yield
        finally:
            os.dup2(kept, _STDERR)
            os.close(kept)
