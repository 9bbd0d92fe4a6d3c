"""Pictures made to take memory, time or the terminal: refused in one sentence, and nothing more."""

import io
import os
import struct
import sys

import numpy as np
import pytest
from PIL import Image

from oxhue.cli.main import exit_code
from oxhue.optics.errors import InputError, LimitError
from oxhue.optics.images.decode import silence_libraries
from oxhue.optics.images.image import load_codes

PIXELS = np.random.default_rng(5).integers(0, 256, (24, 32, 3), dtype=np.uint8)


def made(form, **options):
    stream = io.BytesIO()
    Image.fromarray(PIXELS).save(stream, form, **options)
    return stream.getvalue()


def tiff_with(tag, value):
    """A TIFF with the value of one entry of its directory put in place of its own."""
    data = made("TIFF")
    at = struct.unpack_from("<I", data, 4)[0]
    for entry in range(at + 2, at + 2 + 12 * struct.unpack_from("<H", data, at)[0], 12):
        if struct.unpack_from("<H", data, entry)[0] == tag:
            changed = struct.pack("<HHII", tag, 4, 1, value)
            return data[:entry] + changed + data[entry + 12 :]
    raise LookupError(tag)


def sized(form):
    """A picture whose header says about a thousand million pixels or as many as it can."""
    data = bytearray(made(form))
    if form == "BMP":
        struct.pack_into("<ii", data, 18, 40_000, 25_000)
    elif form == "GIF":
        struct.pack_into("<HH", data, 6, 40_000, 25_000)
        at = data.index(b"\x2c", 10 + 3 * 256)
        struct.pack_into("<HH", data, at + 5, 40_000, 25_000)
    else:
        at = data.index(b"\xff\xc0")
        struct.pack_into(">HH", data, at + 5, 25_000, 40_000)
    return bytes(data)


@pytest.mark.parametrize("form", ["BMP", "GIF", "JPEG"])
def test_a_header_of_a_thousand_million_pixels(form, tmp_path):
    (tmp_path / "photo").write_bytes(sized(form))
    with pytest.raises(LimitError, match="more than 100 megapixels"):
        load_codes(tmp_path / "photo")


def test_a_tiff_of_a_thousand_million_pixels(tmp_path):
    (tmp_path / "photo").write_bytes(tiff_with(256, 1_000_000_000))
    with pytest.raises(LimitError, match="more than 100 megapixels"):
        load_codes(tmp_path / "photo")


@pytest.mark.parametrize(
    "data",
    [
        tiff_with(277, 4099),  # samples a pixel, which Pillow tells its log
        made("TIFF", compression="tiff_deflate").replace(b"\x78\x9c", b"\x78\x9d"),
        made("TIFF", compression="jpeg").replace(b"\xff\xda", b"\xff\x5e"),  # libtiff's own words
    ],
)
def test_no_library_says_a_word_of_its_own(data, tmp_path, capfd):
    (tmp_path / "photo").write_bytes(data)
    with pytest.raises(InputError):
        load_codes(tmp_path / "photo")
    line = ["gauge", "--film", "TiO2", "--on", "Ti", "--photo", str(tmp_path / "photo")]
    assert exit_code([*line, "--patch", "1,1,9,9"]) == 2
    out, err = capfd.readouterr()
    assert out == ""
    assert err.count("\n") == 1
    assert err.startswith("oxhue: the picture ")


@pytest.mark.skipif(not hasattr(os, "fork"), reason="streams as Unix has them")
def test_stderr_is_whole_again_afterwards(capfd):
    with silence_libraries():
        os.write(2, b"lost\n")
    os.write(2, b"kept\n")
    print("and this", file=sys.stderr)
    assert capfd.readouterr().err == "kept\nand this\n"


def test_a_closed_stderr_is_no_fault(monkeypatch):
    def closed(_):
        raise OSError(9, "Bad file descriptor")

    monkeypatch.setattr(os, "dup", closed)
    with silence_libraries():
        pass
