"""What codes mean: our reading of profiles against LittleCMS, and what a file states itself."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image, ImageCms

from oxhue.optics.colour.spaces import srgb_decode, srgb_encode
from oxhue.optics.errors import InputError
from oxhue.optics.images.icc import (
    SRGB,
    encoding_from_primaries,
    encoding_of_profile,
    find_stated_encoding,
    power,
)
from oxhue.optics.images.image import load_codes
from oxhue.optics.images.linear_light import load_picture

RNG = np.random.default_rng(5)
D65 = np.array([0.3127, 0.3290])
# SMPTE EG 432-1 with the white D65 (Display P3) and IEC 61966-2-5 (opRGB, Adobe RGB 1998).
P3 = np.array([[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]])
OPRGB = np.array([[0.64, 0.33], [0.21, 0.71], [0.15, 0.06]])
P3_CURVE = struct.pack(
    ">4sIHH5i",
    b"para",
    0,
    3,
    0,
    *(round(65536 * v) for v in (2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)),
)
GAMMA_CURVE = struct.pack(">4sIIH", b"curv", 0, 1, 563) + b"\0\0"
TABLE_CURVE = struct.pack(">4sII", b"curv", 0, 256) + b"".join(
    struct.pack(">H", round(65535 * float(srgb_decode(i / 255)))) for i in range(256)
)


def icc(tags, space=b"RGB ", kind=b"mntr", connection=b"XYZ "):
    """A profile by ICC.1:2022, 7.2 and 7.3."""
    body, table = b"", struct.pack(">I", len(tags))
    start = 132 + 12 * len(tags)
    for sign, data in tags.items():
        table += struct.pack(">4sII", sign, start + len(body), len(data))
        body += data + bytes(-len(data) % 4)
    size = start + len(body)
    header = struct.pack(
        ">I4xI4s4s4s12s4s", size, 0x02400000, kind, space, connection, bytes(12), b"acsp"
    )
    header += bytes(68 - len(header)) + struct.pack(">3i", 63190, 65536, 54061)
    return header + bytes(128 - len(header)) + table + body


def text(words):
    return struct.pack(">4sII", b"desc", 0, len(words) + 1) + words.encode() + bytes(79)


def matrix_profile(primaries, curve, name="test screen", white=D65):
    """Primaries adapted from their white to D50 by the Bradford matrix, ICC.1:2022 annex E."""
    bradford = np.array(
        [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
    )
    xy = np.vstack([primaries, white])
    xyz = np.column_stack([xy, 1 - xy.sum(1)]) / xy[:, 1:]
    columns = xyz[:3].T * np.linalg.solve(xyz[:3].T, xyz[3])
    d50 = np.array([0.9642, 1.0, 0.8249])
    gain = (bradford @ d50) / (bradford @ xyz[3])
    columns = np.linalg.inv(bradford) @ (gain[:, None] * bradford) @ columns
    tags = {b"desc": text(name), b"wtpt": struct.pack(">4sI3i", b"XYZ ", 0, 63190, 65536, 54061)}
    for c, letter in enumerate(b"rgb"):
        fixed = [round(65536 * v) for v in columns[:, c]]
        tags[bytes([letter]) + b"XYZ"] = struct.pack(">4sI3i", b"XYZ ", 0, *fixed)
        tags[bytes([letter]) + b"TRC"] = curve
    return icc(tags)


def table_profile(space, channels):
    """A profile by a table of two points a channel (ICC.1:2022, 10.11): ink or light to Lab."""
    ink = channels == 4
    corners = np.array(np.meshgrid(*[[0.0, 1.0]] * channels, indexing="ij")).reshape(channels, -1).T
    light = (1 - corners[:, :3]) * (1 - corners[:, 3:]) if ink else corners
    lab = np.column_stack(
        [100 * light.mean(1), 60 * (light[:, 0] - light[:, 1]), 60 * (light[:, 1] - light[:, 2])]
    )
    bytes_ = np.rint(np.column_stack([lab[:, 0] * 2.55, lab[:, 1] + 128, lab[:, 2] + 128]))
    ramp = bytes(range(256))
    unit = [65536, 0, 0, 0, 65536, 0, 0, 0, 65536]
    table = struct.pack(">4sI4B9i", b"mft1", 0, channels, 3, 2, 0, *unit)
    table += ramp * channels + bytes_.astype(np.uint8).tobytes() + ramp * 3
    return icc(
        {b"desc": text("table"), b"A2B0": table}, space, b"scnr" if not ink else b"prtr", b"Lab "
    )


def by_littlecms(pixels, profile, mode="RGB"):
    image = ImageCms.profileToProfile(
        Image.fromarray(pixels, mode) if mode == "RGB" else Image.fromarray(pixels, mode=mode),
        ImageCms.ImageCmsProfile(io.BytesIO(profile)),
        ImageCms.createProfile("sRGB"),
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
        outputMode="RGB",
    )
    return np.asarray(image)


@pytest.mark.parametrize(
    ("primaries", "curve"),
    [(P3, P3_CURVE), (OPRGB, GAMMA_CURVE), (P3, TABLE_CURVE)],
    ids=["P3", "opRGB", "curve by table"],
)
def test_matrix_profiles_agree_with_littlecms(tmp_path, primaries, curve):
    """LittleCMS 2 through Pillow, which rounds and clips to 8 bits of sRGB: half a code, and
    another half for the fixed-point arithmetic it uses there."""
    profile = matrix_profile(primaries, curve)
    pixels = RNG.integers(0, 256, (40, 50, 3), dtype=np.uint8)
    Image.fromarray(pixels).save(tmp_path / "a.png", icc_profile=profile)
    picture = load_picture(tmp_path / "a.png")
    assert picture.notes == ("converted from the embedded profile 'test screen'",)
    ours = 255 * np.clip(srgb_encode(picture.linear), 0, 1)
    np.testing.assert_allclose(ours, by_littlecms(pixels, profile), atol=1.0)


def test_saturated_colours_survive_outside_srgb(tmp_path):
    Image.new("RGB", (4, 4), (0, 255, 0)).save(
        tmp_path / "a.png", icc_profile=matrix_profile(P3, P3_CURVE)
    )
    assert load_picture(tmp_path / "a.png").linear[0, 0, 0] < -0.2


def test_srgb_profile_of_littlecms_changes_nothing(tmp_path):
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    pixels = RNG.integers(0, 256, (8, 8, 3), dtype=np.uint8)
    Image.fromarray(pixels).save(tmp_path / "a.jpg", quality=95)
    Image.fromarray(pixels).save(tmp_path / "b.jpg", quality=95, icc_profile=profile)
    plain, profiled = load_picture(tmp_path / "a.jpg"), load_picture(tmp_path / "b.jpg")
    np.testing.assert_allclose(profiled.linear, plain.linear, atol=2e-4)


def test_white_stays_white_and_black_black():
    for encoding in (SRGB, encoding_from_primaries("P3", P3, D65, curve=srgb_decode)):
        codes = np.array([[0, 0, 0], [255, 255, 255]], dtype=np.uint8)
        np.testing.assert_allclose(encoding.to_linear(codes), [[0] * 3, [1] * 3], atol=1e-6)


@pytest.mark.parametrize("kind", range(5))
def test_parametric_curves_by_their_definition(kind):
    """ICC.1:2022, table 68, written out here case by case."""
    g, a, b, c, d, e, f = 2.2, 0.9, 0.1, 0.3, 0.2, 0.02, 0.01
    given = {0: (g,), 1: (g, a, b), 2: (g, a, b, c), 3: (g, a, b, c, d), 4: (g, a, b, c, d, e, f)}
    curve = struct.pack(
        f">4sIHH{len(given[kind])}i", b"para", 0, kind, 0, *(round(65536 * v) for v in given[kind])
    )
    encoding = encoding_of_profile(matrix_profile(P3, curve), "test")
    assert encoding is not None
    x = np.linspace(0, 1, 11)
    bent = (a * x + b) ** g
    expected = {
        0: x**g,
        1: np.where(x >= -b / a, bent, 0),
        2: np.where(x >= -b / a, bent + c, c),
        3: np.where(x >= d, bent, c * x),
        4: np.where(x >= d, bent + e, c * x + f),
    }
    np.testing.assert_allclose(encoding.curves[0](x), np.clip(expected[kind], 0, 1), atol=1e-4)


def test_cmyk_goes_through_its_profile(tmp_path):
    profile = table_profile(b"CMYK", 4)
    pixels = RNG.integers(0, 256, (6, 6, 4), dtype=np.uint8)
    image = Image.fromarray(pixels, mode="CMYK")
    image.save(tmp_path / "a.tif", icc_profile=profile)
    codes = load_codes(tmp_path / "a.tif")
    np.testing.assert_array_equal(codes.values, by_littlecms(pixels, profile, "CMYK"))
    assert codes.notes == ("converted from the embedded profile 'table'",)


def test_a_profile_by_tables_costs_16_bits_and_says_so(tmp_path):
    profile = table_profile(b"RGB ", 3)
    deep = RNG.integers(0, 65536, (6, 6, 3), dtype=np.uint16)
    rows = b"".join(b"\0" + row.astype(">u2").tobytes() for row in deep)

    def chunk(kind, data):
        check = struct.pack(">I", zlib.crc32(kind + data))
        return struct.pack(">I", len(data)) + kind + data + check

    (tmp_path / "a.png").write_bytes(
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", struct.pack(">IIBBBBB", 6, 6, 16, 2, 0, 0, 0))
        + chunk(b"iCCP", b"table\0\0" + zlib.compress(profile))
        + chunk(b"IDAT", zlib.compress(rows))
        + chunk(b"IEND", b"")
    )
    codes = load_codes(tmp_path / "a.png")
    assert codes.values.dtype == np.uint8
    assert "reduced from 16 to 8 bits a channel to pass its profile" in codes.notes
    high = (deep >> 8).astype(np.uint8)
    np.testing.assert_array_equal(codes.values, by_littlecms(high, profile))


def test_a_picture_with_transparency_goes_through_its_tables_too(tmp_path):
    profile = table_profile(b"RGB ", 3)
    pixels = RNG.integers(0, 256, (6, 6, 4), dtype=np.uint8)
    pixels[..., 3] = 255
    pixels[0, :, 3] = 90
    Image.fromarray(pixels).save(tmp_path / "a.png", icc_profile=profile)
    codes = load_codes(tmp_path / "a.png")
    np.testing.assert_array_equal(codes.values, by_littlecms(pixels[..., :3], profile))
    assert codes.valid.sum() == 30


@pytest.mark.parametrize(
    "damage",
    [
        lambda p: p[:100],
        lambda p: p[:180],
        lambda p: p[:36] + b"xxxx" + p[40:],
        lambda p: p.replace(b"para", b"junk"),
        lambda p: bytes(len(p)),
    ],
)
def test_a_damaged_profile_is_refused(tmp_path, damage):
    Image.new("RGB", (4, 4), (90, 80, 70)).save(
        tmp_path / "a.png", icc_profile=damage(matrix_profile(P3, P3_CURVE))
    )
    with pytest.raises(InputError, match="embedded colour profile"):
        load_codes(tmp_path / "a.png")


def test_a_profile_of_another_kind_is_refused(tmp_path):
    Image.new("RGB", (4, 4), (90, 80, 70)).save(
        tmp_path / "a.png", icc_profile=table_profile(b"CMYK", 4)
    )
    with pytest.raises(InputError, match="does not fit its pixels"):
        load_codes(tmp_path / "a.png")


def test_a_png_may_state_gamma_and_primaries():
    """W3C PNG, 11.3.2: light = code ** (1 / gamma); white and primaries as x, y."""
    linear = find_stated_encoding({"gamma": 1.0})
    np.testing.assert_allclose(linear.to_linear(np.full((1, 3), 51, np.uint8)), 0.2, atol=1e-6)
    stated = find_stated_encoding({"gamma": 0.45455, "chromaticity": (*D65, *P3.ravel())})
    np.testing.assert_allclose(
        stated.matrix, encoding_from_primaries("", P3, D65, curve=srgb_decode).matrix, atol=1e-9
    )
    assert "gamma of 1" in linear.name
    assert "primaries" in stated.name
    usual = (*D65, 0.64, 0.33, 0.30, 0.60, 0.15, 0.06)
    assert find_stated_encoding({"gamma": 0.45455, "chromaticity": usual}) is SRGB
    assert find_stated_encoding({"gamma": 1.0, "srgb": 0}) is SRGB


def test_a_heif_may_state_its_primaries_by_number():
    """ITU-T H.273, tables 2 and 3."""
    assert find_stated_encoding({"nclx_profile": {"color_primaries": 1}}) is SRGB
    wide = find_stated_encoding({"nclx_profile": {"color_primaries": 12}})
    assert wide.name.startswith("P3")
    expected = encoding_from_primaries("", P3, D65, curve=srgb_decode)
    np.testing.assert_allclose(wide.matrix, expected.matrix, atol=1e-12)
    for nclx in ({"color_primaries": 9}, {"color_primaries": 1, "transfer_characteristics": 16}):
        with pytest.raises(InputError, match="export it in sRGB"):
            find_stated_encoding({"nclx_profile": nclx})


def test_exif_r03_means_oprgb(tmp_path):
    # Exif 2.32, 4.6: IFD 0 points to the Exif IFD, that to the interoperability IFD with its index.
    exif = b"Exif\0\0MM\0*" + struct.pack(
        ">I" + "HHHIII" * 2 + "HHHI4sI",
        *(8, 1, 0x8769, 4, 1, 26, 0, 1, 0xA005, 4, 1, 44, 0, 1, 1, 2, 4, b"R03", 0),
    )
    Image.new("RGB", (8, 8), (90, 180, 70)).save(tmp_path / "a.jpg", exif=exif, quality=100)
    picture = load_picture(tmp_path / "a.jpg")
    expected = encoding_from_primaries("", OPRGB, D65, curve=power(563 / 256))
    codes = np.full((8, 8, 3), (90, 180, 70), np.uint8)
    np.testing.assert_allclose(picture.linear, expected.to_linear(codes), atol=0.01)
    assert picture.notes == ("converted from opRGB",)


def test_oprgb_is_a_pure_power():
    """IEC 61966-2-5: the exponent in use is 2 + 51/256, and white stays white."""
    grey = find_stated_encoding({}, opens_as_oprgb=True).to_linear(np.full((1, 3), 64, np.uint8))
    np.testing.assert_allclose(grey, (64.0 / 255.0) ** (2.0 + 51.0 / 256.0), rtol=1e-5)


@pytest.mark.parametrize(
    ("xy", "white"),
    [([[0.3, 0.3]] * 3, D65), ([[0.6, 0.0], [0.3, 0.6], [0.1, 0.1]], D65), (P3, [np.nan, 0.3])],
)
def test_primaries_that_are_none_are_refused(xy, white):
    with pytest.raises(InputError, match="primaries"):
        encoding_from_primaries("it", xy, white, curve=srgb_decode)


@pytest.mark.parametrize("gamma", [0.0, 9.0, np.nan])
def test_a_gamma_that_is_none_is_refused(gamma):
    with pytest.raises(InputError, match="gamma"):
        find_stated_encoding({"gamma": gamma})
