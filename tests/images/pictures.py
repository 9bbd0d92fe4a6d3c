"""Picture files made byte by byte, and files written for a test."""

from __future__ import annotations

import struct
import zlib

from PIL import Image


def chunk(kind, data):
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png_bytes(pixels, colour_type, extra=b"", size=None):
    """A PNG by the standard's own rules (W3C PNG, 11.2), for 8 or 16 bits a channel."""
    height, width = size or pixels.shape[:2]
    bits = 8 * pixels.dtype.itemsize
    rows = b"".join(b"\0" + row.astype(row.dtype.newbyteorder(">")).tobytes() for row in pixels)
    header = struct.pack(">IIBBBBB", width, height, bits, colour_type, 0, 0, 0)
    body = chunk(b"IHDR", header) + extra + chunk(b"IDAT", zlib.compress(rows))
    return b"\x89PNG\r\n\x1a\n" + body + chunk(b"IEND", b"")


def tiff_bytes(pixels, order="<", deflate=False, orientation=1, planes=1, sample_format=1):
    """A TIFF of one strip by the standard's own rules (TIFF 6.0, sections 2 and 6)."""
    data = pixels.astype(pixels.dtype.newbyteorder(order)).tobytes()
    data = zlib.compress(data) if deflate else data
    height, width, channels = pixels.shape
    bits = struct.pack(order + f"{channels}H", *[8 * pixels.dtype.itemsize] * channels)
    kind = struct.pack(order + f"{channels}H", *[sample_format] * channels)
    entries = [
        (256, 3, 1, width),
        (257, 3, 1, height),
        (258, 3, channels, 8),
        (259, 3, 1, 8 if deflate else 1),
        (262, 3, 1, 2),
        (273, 4, 1, 8 + len(bits) + len(kind)),
        (274, 3, 1, orientation),
        (277, 3, 1, channels),
        (278, 3, 1, height),
        (279, 4, 1, len(data)),
        (284, 3, 1, planes),
        *([(338, 3, 1, 2)] if channels == 4 else []),
        (339, 3, channels, 8 + len(bits)),
    ]
    fmt = {3: "H2x", 4: "I"}
    table = b"".join(
        struct.pack(order + "HHI", tag, type_, count)
        + struct.pack(order + (fmt[type_] if count == 1 else "I"), value)
        for tag, type_, count, value in entries
    )
    start = 8 + len(bits) + len(kind) + len(data)
    head = (b"II*\0" if order == "<" else b"MM\0*") + struct.pack(order + "I", start)
    return head + bits + kind + data + struct.pack(order + "H", len(entries)) + table + b"\0\0\0\0"


def saved(tmp_path, pixels, name, **options):
    path = tmp_path / name
    Image.fromarray(pixels).save(path, **options)
    return path


def written(tmp_path, data, name="picture"):
    path = tmp_path / name
    path.write_bytes(data)
    return path
