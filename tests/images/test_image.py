"""Reading picture files: what is kept, what is turned, what is refused."""

from __future__ import annotations

import gc
import struct
import sys
from types import SimpleNamespace

import numpy as np
import PIL
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageOps

from oxhue.optics.colour.spaces import srgb_decode
from oxhue.optics.errors import InputError, LimitError
from oxhue.optics.images import decode
from oxhue.optics.images import image as picture
from oxhue.optics.images.icc import SRGB
from oxhue.optics.images.image import load_codes
from oxhue.optics.images.linear_light import DARK_LINEAR, linearise_within, load_picture
from tests.images.pictures import chunk, png_bytes, saved, tiff_bytes, written

RNG = np.random.default_rng(11)
SMALL = RNG.integers(0, 256, (5, 7, 3), dtype=np.uint8)
DEEP = RNG.integers(0, 65536, (5, 7, 3), dtype=np.uint16)


@pytest.mark.parametrize("name", ["a.png", "a.tif", "a.bmp", "a.webp"])
def test_eight_bits_come_back_as_written(tmp_path, name):
    options = {"lossless": True} if name == "a.webp" else {}
    codes = load_codes(saved(tmp_path, SMALL, name, **options))
    np.testing.assert_array_equal(codes.values, SMALL)
    assert codes.values.dtype == np.uint8
    assert codes.valid.all()
    assert codes.notes == ()


def test_light_within_boxes_is_that_of_the_whole_picture(tmp_path):
    path = saved(tmp_path, RNG.integers(0, 256, (40, 60, 3), dtype=np.uint8), "a.png")
    whole, boxes = load_picture(path), [np.s_[2:9, 3:20], np.s_[30:40, 50:60]]
    part = linearise_within(load_codes(path), boxes)
    for box in boxes:
        for name in ("linear", "clipped", "crushed", "dark", "valid"):
            np.testing.assert_array_equal(getattr(part, name)[box], getattr(whole, name)[box])
    assert part.linear.shape == whole.linear.shape
    assert not part.linear[20:25].any()


def test_a_jpeg_is_linear_light_by_the_srgb_curve(tmp_path):
    flat = np.full((16, 16, 3), (200, 120, 60), dtype=np.uint8)
    picture = load_picture(saved(tmp_path, flat, "a.jpg", quality=95))
    assert picture.linear.dtype == np.float32
    np.testing.assert_allclose(
        picture.linear, np.broadcast_to(srgb_decode(flat / 255.0), (16, 16, 3)), atol=0.008
    )


@pytest.mark.parametrize("colour_type", [2, 6])
def test_a_png_of_16_bits_keeps_them_all(tmp_path, colour_type):
    pixels = DEEP if colour_type == 2 else np.dstack([DEEP, np.full((5, 7), 65535, np.uint16)])
    codes = load_codes(written(tmp_path, png_bytes(pixels, colour_type)))
    np.testing.assert_array_equal(codes.values, DEEP)
    np.testing.assert_allclose(
        load_picture(tmp_path / "picture").linear, srgb_decode(DEEP / 65535.0), atol=1e-6
    )


@pytest.mark.parametrize("order", ["<", ">"])
@pytest.mark.parametrize("deflate", [False, True])
@pytest.mark.parametrize("channels", [3, 4])
def test_a_tiff_of_16_bits_keeps_them_all(tmp_path, order, deflate, channels):
    pixels = np.dstack([DEEP, np.full((5, 7), 65535, np.uint16)])[..., :channels]
    codes = load_codes(written(tmp_path, tiff_bytes(pixels, order, deflate)))
    np.testing.assert_array_equal(codes.values, DEEP)
    assert codes.top == 65535


@pytest.mark.parametrize("deflate", [False, True])
def test_16_bits_plane_by_plane_are_refused_and_not_cut_to_8(tmp_path, deflate):
    path = written(tmp_path, tiff_bytes(DEEP, deflate=deflate, planes=2))
    with pytest.raises(InputError, match="more than 8 bits in an uncommon way"):
        load_codes(path)


def test_floats_in_a_tiff_are_refused(tmp_path):
    path = written(tmp_path, tiff_bytes(DEEP.astype(np.float32), sample_format=3))
    with pytest.raises(InputError):
        load_codes(path)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("name", ["a.png", "a.tif", "deep.tif", "a.webp"])
def test_every_orientation_is_turned_upright(tmp_path, name, orientation):
    exif = Image.Exif()
    exif[0x0112] = orientation
    turned = Image.fromarray(SMALL)
    turned.info["exif"] = exif.tobytes()
    expected = np.asarray(ImageOps.exif_transpose(turned))
    if name == "deep.tif":
        deep = SMALL.astype(np.uint16) * 257
        path = written(tmp_path, tiff_bytes(deep, orientation=orientation))
        expected = expected.astype(np.uint16) * 257
    else:
        options = {"lossless": True} if name == "a.webp" else {}
        path = saved(tmp_path, SMALL, name, exif=exif, **options)
    codes = load_codes(path)
    np.testing.assert_array_equal(codes.values, expected)
    assert ("turned upright by its EXIF orientation" in codes.notes) == (orientation != 1)


def test_orientation_6_puts_the_stored_first_row_on_the_right(tmp_path):
    """Exif 2.32, tag 0x0112: value 6 means row 0 is the right-hand side of the scene."""
    exif = Image.Exif()
    exif[0x0112] = 6
    stored = np.zeros((16, 32, 3), dtype=np.uint8)
    stored[:8] = (250, 250, 20)
    codes = load_codes(saved(tmp_path, stored, "a.jpg", exif=exif, quality=95))
    assert codes.values.shape == (32, 16, 3)
    assert codes.values[:, 12:, 0].min() > 200
    assert codes.values[:, :4, 0].max() < 50


@pytest.mark.parametrize("orientation", [0, 9])
def test_an_orientation_that_does_not_exist_turns_nothing(tmp_path, orientation):
    exif = Image.Exif()
    exif[0x0112] = orientation
    np.testing.assert_array_equal(
        load_codes(saved(tmp_path, SMALL, "a.png", exif=exif)).values, SMALL
    )


def test_transparent_parts_are_left_out_and_named(tmp_path):
    alpha = np.full((5, 7), 255, dtype=np.uint8)
    alpha[0], alpha[1] = 0, 128
    codes = load_codes(saved(tmp_path, np.dstack([SMALL, alpha]), "a.png"))
    np.testing.assert_array_equal(codes.valid, alpha == 255)
    assert codes.notes == ("transparent parts left out",)


@pytest.mark.parametrize("pixels", [SMALL, DEEP], ids=["8 bits", "16 bits"])
def test_the_key_colour_of_a_png_is_transparent(tmp_path, pixels):
    key = struct.pack(">3H", *(int(v) for v in pixels[2, 3]))
    codes = load_codes(written(tmp_path, png_bytes(pixels, 2, chunk(b"tRNS", key))))
    assert np.argwhere(~codes.valid).tolist() == [[2, 3]]


def test_a_palette_is_resolved(tmp_path):
    plain = np.repeat(np.array([[[200, 30, 40], [20, 90, 160]]], np.uint8), 6, axis=0)
    path = tmp_path / "a.png"
    Image.fromarray(plain).convert("P", palette=Image.Palette.ADAPTIVE).save(path)
    codes = load_codes(path)
    np.testing.assert_array_equal(codes.values, plain)
    assert codes.notes == ("its palette was resolved",)


def test_the_first_of_several_pictures_is_read(tmp_path):
    frames = [Image.fromarray(np.full((6, 6, 3), c, np.uint8)) for c in ((255, 0, 0), (0, 0, 255))]
    frames[0].save(tmp_path / "a.gif", save_all=True, append_images=frames[1:])
    codes = load_codes(tmp_path / "a.gif")
    assert codes.values[0, 0].tolist() == [255, 0, 0]
    assert "it holds more than one picture; the first is read" in codes.notes


@pytest.mark.parametrize("mode", ["L", "LA", "1", "I;16"])
def test_grey_is_refused(tmp_path, mode):
    path = tmp_path / "a.png"
    Image.new(mode, (6, 6)).save(path)
    with pytest.raises(InputError, match="grey and carries no colour"):
        load_codes(path)


def test_grey_with_alpha_in_16_bits_is_refused(tmp_path):
    path = written(tmp_path, png_bytes(DEEP[..., :2], 4))
    with pytest.raises(InputError, match="grey and carries no colour"):
        load_codes(path)


def test_grey_stored_as_rgb_is_said(tmp_path):
    grey = np.repeat(SMALL[..., :1], 3, axis=-1)
    assert "every pixel is grey" in load_codes(saved(tmp_path, grey, "a.png")).notes[0]


@pytest.mark.parametrize(("mode", "match"), [("CMYK", "without a profile"), ("LAB", "LAB")])
def test_other_ways_of_storing_colour_are_refused(tmp_path, mode, match):
    Image.new(mode, (6, 6)).save(tmp_path / "a.tif")
    with pytest.raises(InputError, match=match):
        load_codes(tmp_path / "a.tif")


def test_a_tiff_of_luminance_and_chroma_is_what_it_was_made_of(tmp_path):
    pixels = np.full((16, 16, 3), (200, 60, 40), np.uint8)
    Image.fromarray(pixels).convert("YCbCr").save(tmp_path / "a.tif")
    if int(PIL.__version__.partition(".")[0]) < 13:  # takes such a file for cut off
        with pytest.raises(InputError, match="damaged or cut off"):
            load_codes(tmp_path / "a.tif")
        return
    codes = load_codes(tmp_path / "a.tif")
    np.testing.assert_allclose(codes.values.astype(float), pixels, atol=2)


def test_a_film_is_no_picture_even_in_the_box_of_one(tmp_path):
    with pytest.raises(InputError, match="is not a JPEG"):
        load_codes(written(tmp_path, b"\0\0\0\x18ftypisom" + bytes(40)))


def test_a_tiff_is_read_where_there_is_no_terminal_at_all(tmp_path, monkeypatch):
    path = saved(tmp_path, SMALL, "a.tif")
    monkeypatch.setattr(sys, "stderr", None)
    np.testing.assert_array_equal(load_codes(path).values, SMALL)


def test_a_tall_picture_is_linear_in_every_row(tmp_path, monkeypatch):
    monkeypatch.setattr(decode, "_PIXELS_AT_ONCE", 14)  # two rows of seven at a time
    tall = np.concatenate([SMALL, SMALL[::-1], SMALL])
    seen = load_picture(saved(tmp_path, tall, "a.png"))
    np.testing.assert_allclose(seen.linear, srgb_decode(tall / 255.0), atol=1e-6)
    np.testing.assert_array_equal(seen.dark, (seen.linear < DARK_LINEAR).all(axis=-1))


def test_masks_say_where_a_pixel_tells_nothing(tmp_path):
    row = [(255, 90, 90), (254, 90, 90), (253, 90, 90), (4, 5, 6), (90, 0, 90), (90, 90, 90)]
    picture = load_picture(saved(tmp_path, np.array([row], np.uint8), "a.png"))
    assert picture.clipped[0].tolist() == [True, True, False, False, False, False]
    assert picture.dark[0].tolist() == [False, False, False, True, False, False]
    assert picture.crushed[0].tolist() == [False, False, False, False, True, False]
    assert picture.linear[0, 3].max() < DARK_LINEAR


@pytest.mark.parametrize(("top", "least", "most"), [(255, 1, 254), (65535, 257, 65278)])
def test_one_step_of_eight_bits_from_an_end_counts_as_that_end(top, least, most):
    middle = top // 2
    row = [[middle, one, middle] for one in (least, least + 1, most, most - 1)]
    values = np.array([row], dtype=np.uint8 if top == 255 else np.uint16)
    codes = picture.Codes(values, np.ones((1, 4), bool), SRGB, ())
    assert codes.top == top
    assert codes.find_crushed()[0].tolist() == [True, False, False, False]
    assert codes.find_clipped()[0].tolist() == [False, False, True, False]


@pytest.mark.parametrize(
    ("content", "match"),
    [
        (b"", "is empty"),
        (b"no picture at all, but a line of text", "is not a JPEG"),
        (b"\x89PNG\r\n\x1a\n", "is not a JPEG|damaged"),
        (b"\xff\xd8\xff\xe0" + bytes(40), "is not a JPEG|damaged"),
    ],
)
def test_what_is_no_picture_is_refused(tmp_path, content, match):
    with pytest.raises(InputError, match=match):
        load_codes(written(tmp_path, content))


@pytest.mark.parametrize("name", ["a.jpg", "a.png", "a.tif", "a.webp", "a.gif"])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_a_cut_file_is_refused(tmp_path, name, share):
    pixels = RNG.integers(0, 256, (64, 64, 3), dtype=np.uint8)
    data = saved(tmp_path, pixels, name).read_bytes()
    with pytest.raises(InputError, match=r"damaged or cut off|is not a JPEG"):
        load_codes(written(tmp_path, data[: int(share * len(data))]))


def test_a_png_with_a_wrong_checksum_is_refused(tmp_path):
    data = bytearray(png_bytes(SMALL, 2))
    data[data.index(b"IDAT") + 20] ^= 1
    with pytest.raises(InputError, match="damaged"):
        load_codes(written(tmp_path, bytes(data)))


def test_a_png_whose_pixels_decode_but_whose_checksum_is_wrong_is_refused(tmp_path):
    data = bytearray(png_bytes(SMALL, 2))
    data[data.index(b"IEND") - 5] ^= 1  # the last byte of the checksum before it
    with pytest.raises(InputError, match="damaged"):
        load_codes(written(tmp_path, bytes(data)))


def test_missing_files_and_folders_are_refused(tmp_path):
    with pytest.raises(InputError, match="there is no picture"):
        load_codes(tmp_path / "none.jpg")
    with pytest.raises(InputError, match="is not a file"):
        load_codes(tmp_path)


@pytest.mark.parametrize("size", [(10_001, 10_000), (60_000, 60_000), (2**31 - 1, 2**31 - 1)])
def test_a_header_of_too_many_pixels_is_refused_before_decoding(tmp_path, size):
    with pytest.raises(LimitError, match="more than 100 megapixels"):
        load_codes(written(tmp_path, png_bytes(SMALL, 2, size=size)))


def test_a_picture_between_pillows_limit_and_ours_brings_no_warning(tmp_path):
    path = written(tmp_path, png_bytes(SMALL, 2, size=(9_500, 10_000)))
    with pytest.raises(InputError, match="damaged or cut off"):  # and warnings are errors
        load_codes(path)


def test_a_width_of_zero_is_refused(tmp_path):
    with pytest.raises(InputError):
        load_codes(written(tmp_path, png_bytes(SMALL, 2, size=(5, 0))))


def test_a_file_above_the_limit_is_refused_unread(tmp_path, monkeypatch):
    monkeypatch.setattr(decode, "MAX_BYTES", 100)
    with pytest.raises(LimitError, match="at most"):
        load_codes(saved(tmp_path, np.zeros((40, 40, 3), np.uint8), "a.bmp"))


def test_pillows_own_limit_is_left_alone(tmp_path):
    before = Image.MAX_IMAGE_PIXELS
    load_codes(saved(tmp_path, SMALL, "a.png"))
    assert before == Image.MAX_IMAGE_PIXELS


def test_a_heic_keeps_its_bits_and_stands_upright(tmp_path):
    heif = pytest.importorskip("pillow_heif")
    stored = np.zeros((64, 96, 3), dtype=np.uint8)
    stored[:32, :48] = (200, 60, 40)
    exif = Image.Exif()
    exif[0x0112] = 6
    heif.from_pillow(Image.fromarray(stored)).save(
        tmp_path / "a.heic", quality=95, exif=exif.tobytes()
    )
    codes = load_codes(tmp_path / "a.heic")
    assert codes.values.shape == (96, 64, 3)
    np.testing.assert_allclose(codes.values[8, -8], [200, 60, 40], atol=3)
    deep = np.ascontiguousarray(np.broadcast_to(np.uint16([40_000, 20_000, 65_535]), (64, 96, 3)))
    heif.from_bytes("RGB;16", (96, 64), deep.tobytes()).save(tmp_path / "b.heic", quality=95)
    codes = load_codes(tmp_path / "b.heic")
    assert codes.values.dtype == np.uint16
    np.testing.assert_allclose(codes.values[30, 40], deep[30, 40], atol=400)
    assert codes.find_clipped().all()


def test_a_heic_is_copied_before_its_reader_lets_go(tmp_path, monkeypatch):
    """Older readers hand out a view of memory that they free together with the file."""

    class Opened:
        primary_index = 0

        def __init__(self):
            self.pixels = np.full((8, 8, 3), 77, dtype=np.uint8)

        def __getitem__(self, _):
            picture = SimpleNamespace(size=(8, 8), mode="RGB", info={})
            picture.__array_interface__ = self.pixels.__array_interface__
            return picture

        def __del__(self):
            self.pixels[:] = 0

    held = []  # so that the freed memory of this test is still there to be looked at

    def open_heif(*_, **__):
        opened = Opened()
        held.append(opened.pixels)
        return opened

    monkeypatch.setitem(sys.modules, "pillow_heif", SimpleNamespace(open_heif=open_heif))
    codes = load_codes(written(tmp_path, b"\0\0\0\x18ftypheic" + bytes(40)))
    gc.collect()
    assert (held[0] == 0).all()
    assert (codes.values == 77).all()


H273 = {"P3": (12, 13, 0, 1), "sRGB": (1, 13, 0, 1), "linear": (1, 8, 0, 1)}


@pytest.mark.parametrize("name", H273)
def test_a_png_says_by_numbers_what_its_codes_mean(tmp_path, name):
    """Whatever else it states, as an old program reads it: W3C PNG, 3rd edition, 4.3."""
    gamma = chunk(b"gAMA", struct.pack(">I", 100_000 if name != "linear" else 45_455))
    pixels = np.full((4, 4, 3), (200, 60, 40), dtype=np.uint8)
    said = chunk(b"cICP", bytes(H273[name]))
    codes = load_codes(written(tmp_path, png_bytes(pixels, 2, said + gamma)))
    if name == "linear":
        np.testing.assert_allclose(codes.encoding.curves[0](np.array(0.25)), 0.25)
    else:
        assert (codes.encoding is SRGB) is (name == "sRGB")
        assert ("P3" in codes.encoding.name) is (name == "P3")


@pytest.mark.parametrize(
    ("numbers", "words"),
    [
        ((9, 16, 0, 1), "high-dynamic-range"),
        ((9, 18, 0, 1), "high-dynamic-range"),
        ((9, 13, 0, 1), "primaries we do not know"),
        ((1, 17, 0, 1), "transfer curve we do not know"),
        ((1, 13, 1, 1), "video levels"),
        ((1, 13, 0, 0), "video levels"),
        ((1, 13, 0), "cICP chunk is damaged"),
    ],
)
def test_numbers_that_we_do_not_know_are_refused(tmp_path, numbers, words):
    pixels = np.full((4, 4, 3), 120, dtype=np.uint8)
    stated = written(tmp_path, png_bytes(pixels, 2, chunk(b"cICP", bytes(numbers))))
    with pytest.raises(InputError, match=words):
        load_codes(stated)


def test_a_heic_without_its_extra_names_it(tmp_path, monkeypatch):
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    with pytest.raises(InputError, match="extra 'heif'"):
        load_codes(written(tmp_path, b"\0\0\0\x18ftypheic" + bytes(40)))


@given(st.binary(min_size=1, max_size=300))
@settings(deadline=None, max_examples=150)
def test_random_bytes_raise_nothing_but_input_error(tmp_path_factory, data):
    path = written(tmp_path_factory.getbasetemp(), data, "random")
    with pytest.raises(InputError):
        load_codes(path)


def _samples():
    import io

    exif = Image.Exif()
    exif[0x0112] = 6
    for kind in ("JPEG", "PNG", "TIFF", "WEBP", "GIF", "BMP"):
        stream = io.BytesIO()
        options = {} if kind in ("GIF", "BMP") else {"exif": exif}
        Image.fromarray(SMALL).save(stream, kind, **options)
        yield stream.getvalue()
    yield from (png_bytes(DEEP, 2), tiff_bytes(DEEP), tiff_bytes(DEEP, ">", deflate=True))


SAMPLES = list(_samples())


@given(
    st.sampled_from(SAMPLES),
    st.lists(st.tuples(st.floats(0, 1, exclude_max=True), st.integers(0, 255)), max_size=6),
)
@settings(deadline=None, max_examples=150)
def test_altered_bytes_raise_nothing_but_input_error(tmp_path_factory, sample, changes):
    data = bytearray(sample)
    for place, value in changes:
        data[int(place * len(data))] = value
    path = written(tmp_path_factory.getbasetemp(), bytes(data), "altered")
    try:
        picture = load_picture(path)
    except InputError:
        return
    assert np.isfinite(picture.linear).all()
