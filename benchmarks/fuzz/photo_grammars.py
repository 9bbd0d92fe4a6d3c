"""Grammar of photos: containers put together from their parts, which are broken now and then.

The pixels are known, so that a picture whose parts are right must come out upright and in its
colours, and one that states another encoding must not come out as plain sRGB. What is broken may
be refused or read, but in one sentence and without a word from a library.
"""

from __future__ import annotations

import struct
import tempfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from io import BytesIO
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from oxhue.optics.images.icc import SRGB
from oxhue.optics.images.image import load_codes

from .atoms import seldom
from .text_grammars import refused_or

_BROKEN = 0.6
_SIZE = (6, 4)
_SIZES = (0, 1, 2, 3, 12, 255, 65_535, 1 << 16, (1 << 31) - 1, 1 << 31, (1 << 32) - 1)


@dataclass(frozen=True)
class Photo:
    """A file, and where nothing is broken its upright pixels and whether it is plain sRGB."""

    raw: bytes
    pixels: NDArray[np.uint8] | None = None
    plain: bool = True
    slack: int = 0


def _pixels(random: Random) -> NDArray[np.uint8]:
    return np.frombuffer(random.randbytes(_SIZE[0] * _SIZE[1] * 3), np.uint8).reshape(
        _SIZE[1], _SIZE[0], 3
    )


# EXIF 2.3, tag 274: what has to be done to see the picture upright.
_UPRIGHT: dict[int, Callable[[Any], Any]] = {
    1: lambda p: p, 2: lambda p: p[:, ::-1], 3: lambda p: p[::-1, ::-1], 4: lambda p: p[::-1],
    5: lambda p: p.swapaxes(0, 1), 6: lambda p: p.swapaxes(0, 1)[:, ::-1],
    7: lambda p: p[::-1, ::-1].swapaxes(0, 1), 8: lambda p: p.swapaxes(0, 1)[::-1],
}  # fmt: skip


def _exif(orientation: int) -> bytes:
    """A block of EXIF with nothing but the orientation."""
    return b"MM\0*" + struct.pack(">IHHHIHHI", 8, 1, 274, 3, 1, orientation, 0, 0)


@cache
def _profile(kind: str) -> bytes:
    return ImageCms.ImageCmsProfile(ImageCms.createProfile(kind)).tobytes()  # type: ignore[arg-type]


def _broken_bytes(random: Random, data: bytes) -> bytes:
    """Bytes with a bit turned, a stretch lost, doubled or random."""
    if not data:
        return bytes([random.randrange(256)])
    at = random.randrange(len(data))
    end = min(len(data), at + random.choice((1, 2, 4, 30)))
    return random.choice(
        (
            data[:at] + bytes([data[at] ^ (1 << random.randrange(8))]) + data[at + 1 :],
            data[:at] + data[end:], data[:end] + data[at:], data[:at],
            data[:at] + random.randbytes(end - at) + data[end:],
        )
    )  # fmt: skip


def _broken_parts(random: Random, parts: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    """Parts of a container with one of them lost, doubled, moved, renamed or broken inside."""
    at = random.randrange(len(parts))
    name, data = parts[at]
    kind = random.randrange(6)
    if kind == 0:
        return parts[:at] + parts[at + 1 :]
    if kind == 1:
        return parts[:at] + [parts[at]] * random.randint(2, 40) + parts[at + 1 :]
    if kind == 2:
        return [*parts[:at], *parts[at + 1 :], parts[at]]
    if kind == 3:
        return [*parts[:at], (random.randbytes(4), data), *parts[at + 1 :]]
    if kind == 4:
        return [*parts[:at], (name, b""), *parts[at + 1 :]]
    return [*parts[:at], (name, _broken_bytes(random, data)), *parts[at + 1 :]]


# -- PNG: chunks of length, name, data and checksum (W3C, third edition, 5.3) -----------------


def _png(random: Random) -> Photo:
    pixels = _pixels(random)
    turn = random.randint(1, 8)
    rows = b"".join(b"\0" + row.tobytes() for row in pixels)
    head = struct.pack(">IIBBBBB", *_SIZE, 8, 2, 0, 0, 0)
    parts = [(b"IHDR", head)]
    plain = True
    if seldom(random, 0.3):
        primaries, transfer = random.choice(((9, 16), (9, 18), (12, 13), (1, 8), (1, 13), (1, 4)))
        parts.append((b"cICP", bytes([primaries, transfer, 0, 1])))
        plain = (primaries, transfer) == (1, 13)
    elif seldom(random, 0.2):
        parts.append((b"gAMA", struct.pack(">I", random.choice((100_000, 45_455, 55_556)))))
        plain = parts[-1][1] == struct.pack(">I", 45_455)
    elif seldom(random, 0.2):
        parts.append((b"sRGB", b"\0"))
    if seldom(random, 0.3):
        parts.append((b"tEXt", b"Comment\0the dial of the town hall"))
    exif = (b"eXIf", _exif(turn))
    halves = zlib.compress(rows)
    cut = random.randrange(len(halves))
    data = [(b"IDAT", halves[:cut]), (b"IDAT", halves[cut:])]
    parts += [exif, *data] if seldom(random, 0.5) else [*data, exif]
    parts.append((b"IEND", b""))
    if not seldom(random, _BROKEN):
        return Photo(_join_png(random, parts), _UPRIGHT[turn](pixels), plain)
    return Photo(_join_png(random, _broken_parts(random, parts), seldom(random, 0.3)))


def _join_png(random: Random, parts: list[tuple[bytes, bytes]], broken: bool = False) -> bytes:
    whole = b"\x89PNG\r\n\x1a\n"
    wrong = random.randrange(len(parts)) if broken else -1
    for i, (name, data) in enumerate(parts):
        size = random.choice(_SIZES) if i == wrong else len(data)
        total = zlib.crc32(name + data) ^ (i == wrong and seldom(random, 0.5))
        whole += struct.pack(">I", size) + name + data + struct.pack(">I", total)
    return whole


# -- JPEG: segments of a marker, a length and data (ITU-T T.81, annex B) ----------------------


@cache
def _jpeg_base(progressive: bool) -> tuple[bytes, NDArray[np.uint8]]:
    """A picture of two fields, and how it decodes."""
    pixels = np.full((16, 24, 3), 200, np.uint8)
    pixels[:, 12:] = (40, 90, 160)
    stream = BytesIO()
    Image.fromarray(pixels).save(stream, "JPEG", quality=95, subsampling=0, progressive=progressive)
    return stream.getvalue(), pixels


def _jpeg(random: Random) -> Photo:
    base, pixels = _jpeg_base(seldom(random, 0.3))
    turn = random.randint(1, 8)
    parts = [(b"\xe1", b"Exif\0\0" + _exif(turn))]
    if seldom(random, 0.3):
        parts.append((b"\xe2", b"ICC_PROFILE\0\1\1" + _profile("sRGB")))
    if seldom(random, 0.3):
        parts.append((b"\xfe", b"the dial of the town hall"))
    random.shuffle(parts)
    broken = seldom(random, _BROKEN)
    if broken and seldom(random, 0.6):
        parts = _broken_parts(random, parts)
    whole = b"\xff\xd8"
    for name, data in parts:
        size = len(data) + 2
        if broken and seldom(random, 0.2):
            size = random.choice(_SIZES) & 0xFFFF
        whole += b"\xff" + name[:1] + struct.pack(">H", min(size, 65_535)) + data
    rest = base[2:]
    if broken and seldom(random, 0.5):
        return Photo(whole + _broken_bytes(random, rest))
    if broken:
        return Photo(whole + rest)
    return Photo(whole + rest, _UPRIGHT[turn](pixels), slack=12)


# -- TIFF: a directory of tags, each with kind, count and value (TIFF 6.0, section 2) ---------


def _tiff(random: Random) -> Photo:
    pixels = _pixels(random)
    turn = random.randint(1, 8)
    end = random.choice("<>")
    data = pixels.tobytes()
    at = 8
    bits = struct.pack(f"{end}HHH", 8, 8, 8)
    tags = [(256, 4, 1, _SIZE[0]), (257, 4, 1, _SIZE[1]), (258, 3, 3, at + len(data)),
            (259, 3, 1, 1), (262, 3, 1, 2), (273, 4, 1, at), (274, 3, 1, turn), (277, 3, 1, 3),
            (278, 4, 1, _SIZE[1]), (279, 4, 1, len(data)), (284, 3, 1, 1)]  # fmt: skip
    broken = seldom(random, _BROKEN)
    if broken:
        i = random.randrange(len(tags))
        tag, kind, count, value = tags[i]
        tags[i] = random.choice(
            (
                (tag, kind, count, random.choice(_SIZES)),
                (tag, kind, random.choice(_SIZES), value),
                (tag, random.randrange(20), count, value),
                (random.randrange(65_536), kind, count, 7),
            )
        )  # fmt: skip
    directory = struct.pack(f"{end}H", len(tags))
    for tag, kind, count, value in tags:
        short = kind == 3 and count == 1
        packed = (
            struct.pack(f"{end}HH", value & 0xFFFF, 0) if short else struct.pack(f"{end}I", value)
        )
        directory += struct.pack(f"{end}HHI", tag, kind, count) + packed
    place = at + len(data) + len(bits)
    start = (b"II*\0" if end == "<" else b"MM\0*") + struct.pack(f"{end}I", place)
    # The next directory: none, or where the file is broken this one again, a ring.
    following = place if broken and seldom(random, 0.2) else 0
    whole = start + data + bits + directory + struct.pack(f"{end}I", following)
    if broken:
        return Photo(_broken_bytes(random, whole) if seldom(random, 0.3) else whole)
    return Photo(whole, _UPRIGHT[turn](pixels))


# -- WebP: chunks of name, length and data in a RIFF (RFC 9649) -------------------------------


def _webp(random: Random) -> Photo:
    pixels = _pixels(random)
    turn = random.randint(1, 8)
    stream = BytesIO()
    Image.fromarray(pixels).save(stream, "WEBP", lossless=True, exact=True)
    base = stream.getvalue()[12:]
    profiled = seldom(random, 0.3)
    flags = 0x08 | (0x20 if profiled else 0)  # EXIF, ICC
    size = struct.pack("<I", _SIZE[0] - 1)[:3] + struct.pack("<I", _SIZE[1] - 1)[:3]
    parts = [(b"VP8X", bytes([flags, 0, 0, 0]) + size)]
    if profiled:
        parts.append((b"ICCP", _profile("sRGB")))
    parts += [(base[:4], base[8 : 8 + struct.unpack("<I", base[4:8])[0]]), (b"EXIF", _exif(turn))]
    broken = seldom(random, _BROKEN)
    if broken:
        parts = _broken_parts(random, parts)
    body = b"WEBP"
    for name, data in parts:
        length = random.choice(_SIZES) if broken and seldom(random, 0.1) else len(data)
        body += name + struct.pack("<I", length) + data + b"\0" * (len(data) % 2)
    whole = b"RIFF" + struct.pack("<I", len(body)) + body
    return Photo(whole) if broken else Photo(whole, _UPRIGHT[turn](pixels))


# -- HEIF: boxes of length, name and data (ISO/IEC 14496-12) ----------------------------------


@cache
def _heif_base(colour: int) -> bytes:
    """One small still, made once: its coder is slow."""
    import pillow_heif

    pixels = np.full((64, 64, 3), colour, np.uint8)
    stream = BytesIO()
    pillow_heif.from_pillow(Image.fromarray(pixels)).save(stream, quality=-1)
    return stream.getvalue()


def _heif(random: Random) -> Photo:
    colour = random.choice((60, 128, 200))
    whole = _heif_base(colour)
    if not seldom(random, _BROKEN):
        return Photo(whole, np.full((64, 64, 3), colour, np.uint8), slack=4)
    boxes, at = [], 0
    while at + 8 <= len(whole):
        size = struct.unpack(">I", whole[at : at + 4])[0] or len(whole) - at
        boxes.append((whole[at + 4 : at + 8], whole[at + 8 : at + size]))
        at += size
    parts = _broken_parts(random, boxes)
    if seldom(random, 0.5):  # inside the box that holds what and how
        i = next((i for i, (name, _) in enumerate(parts) if name == b"meta"), 0)
        parts[i] = (parts[i][0], _broken_bytes(random, parts[i][1]))
    joined = b""
    for name, data in parts:
        length = random.choice(_SIZES) if seldom(random, 0.05) else len(data) + 8
        joined += struct.pack(">I", length) + name + data
    return Photo(joined)


def draw_photo(random: Random) -> Photo:
    """A PNG, JPEG, TIFF, WebP or HEIF, whole or broken."""
    ways = (_png, _png, _jpeg, _tiff, _webp, _heif)
    return random.choice(ways)(random)


def check_photo(photo: Photo) -> bool:
    """Pixels as they were stored, in their encoding; or one sentence."""
    with tempfile.NamedTemporaryFile() as file:
        file.write(photo.raw)
        file.flush()
        codes = refused_or(lambda: load_codes(Path(file.name)))
    if codes is None:
        assert photo.pixels is None or not photo.plain, "a whole picture is refused"
        return False
    assert codes.values.shape[:2] == codes.valid.shape
    if photo.pixels is not None:
        assert photo.plain or codes.encoding is not SRGB, "its encoding is left aside"
        off = np.abs(codes.values.astype(int) - photo.pixels.astype(int)).max()
        assert codes.values.shape == photo.pixels.shape, "it lies on its side"
        assert off <= photo.slack, f"codes are {off} off"
    return True
