"""Photos: taken in, read, mapped, and refused; made by the forward model."""

import asyncio
import base64
import errno
import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image, ImageCms

from oxhue.optics.look.look import look
from oxhue.page import uploads as shelf
from oxhue.page.questions import photo as photo_question

FILM, ON = "TiO2(siefke2016)", "Ti(johnson1974)"


def rendered(thin_nm=40.0, thick_nm=60.0):
    """A photo of a plate whose oxide thickens from left to right, with a white card above it."""
    seen = look(f"{FILM} {thin_nm}..{thick_nm}nm step {(thick_nm - thin_nm) / 239}nm / {ON}")
    picture = np.full((160, 300, 3), 0.5)
    picture[60:140, 30:270] = seen.reflected.srgb[None]
    picture[10:50, 200:280] = 0.93  # 0.85 in linear light
    return np.rint(255.0 * np.clip(picture, 0.0, 1.0)).astype(np.uint8)


def as_file(pixels, kind="PNG", **options):
    stream = io.BytesIO()
    Image.fromarray(pixels).save(stream, kind, **options)
    return stream.getvalue()


@pytest.fixture(scope="module")
def plate():
    return as_file(rendered(), "JPEG", quality=95)


def sent(browser, body):
    return browser.post("/api/photo", content=body)


def test_a_spot_on_a_photo_gives_its_thickness(browser, ask, plate):
    response = sent(browser, plate)
    told = response.json()["answer"]
    assert (told["width"], told["height"], told["notes"]) == (300, 160, [])
    found = ask("gauge", photo=response.headers["x-photo"], film=FILM, on=ON,
                patch="141,90,18,18", white="220,20,30,20")  # fmt: skip
    low, high = found["answer"]["candidates"][0]["interval90_nm"]
    assert low < 50.0 < high
    assert found["answer"]["seen"][0]["text"] == "photo at 141,90,18,18"
    assert len(found["drawing"]["density"]) == len(found["drawing"]["srgb_hex"]) == 251


def test_a_glance_while_dragging_is_near_the_answer_that_follows(browser, ask, plate):
    photo = sent(browser, plate).headers["x-photo"]
    asked = {"photo": photo, "film": FILM, "on": ON, "white": "210,15,60,30"}
    for spot in ("100,70,60,60", "200,95,9,9"):
        glanced, whole = ask("glance", **asked, patch=spot), ask("gauge", **asked, patch=spot)
        first, same = glanced["answer"]["candidates"][0], whole["answer"]["candidates"][0]
        low, high = same["interval90_nm"]
        assert abs(first["thickness_nm"] - same["thickness_nm"]) < (high - low) / 4
        assert first["interval90_nm"][1] - first["interval90_nm"][0] < 2 * (high - low)
        assert len(glanced["drawing"]["density"]) == len(whole["drawing"]["density"])
    assert "leaves the picture" in ask("glance", **asked, patch="290,150,40,40")["refused"]


def test_a_photo_becomes_a_map_whose_files_can_be_fetched(browser, ask, plate):
    name = sent(browser, plate).headers["x-photo"]
    assert browser.get(f"/api/photo/{name}/map/map.png").status_code == 404
    found = ask("map", photo=name, film=FILM, on=ON, white="220,20,30,20")["answer"]
    assert 40.0 < found["median_nm"] < 60.0
    for file, kind in shelf.MAP_FILES.items():
        response = browser.get(f"/api/photo/{name}/map/{file}")
        assert (response.status_code, response.headers["content-type"]) == (200, kind)


def test_the_preview_is_upright_and_small(browser):
    wide = np.zeros((40, 3200, 3), np.uint8)
    wide[:, :1600] = (200, 30, 30)
    exif = Image.Exif()
    exif[0x0112] = 6  # to be turned a quarter clockwise
    name = sent(browser, as_file(wide, "JPEG", exif=exif)).headers["x-photo"]
    response = browser.get(f"/api/photo/{name}/preview")
    with Image.open(io.BytesIO(response.content)) as preview:
        assert preview.size == (20, 1600)
        assert preview.getpixel((10, 100))[0] > 150
        assert preview.getpixel((10, 1500))[0] < 50


def test_the_preview_of_a_photo_in_another_encoding_is_in_srgb(browser):
    pixels = np.full((40, 40, 3), (200, 60, 60), np.uint8)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    plain_, tagged = (as_file(pixels, "PNG", **kept) for kept in ({}, {"icc_profile": profile}))
    seen = []
    for body in (plain_, tagged):
        name = sent(browser, body).headers["x-photo"]
        with Image.open(io.BytesIO(browser.get(f"/api/photo/{name}/preview").content)) as preview:
            seen.append(np.array(preview.getpixel((20, 20)), int))
    assert np.abs(seen[0] - [200, 60, 60]).max() <= 2
    assert np.abs(seen[0] - seen[1]).max() <= 2


@pytest.mark.parametrize(
    "body", [b"", b"no picture at all", b"\x89PNG\r\n\x1a\nbroken", b"\xff\xd8\xff\xe0" + bytes(99)]
)
def test_a_bad_file_is_refused_without_saying_where_it_was_kept(browser, body):
    response = sent(browser, body)
    said = response.json()["refused"]
    assert said.startswith("the picture ")
    assert "oxhue-page" not in said
    assert "/" not in said
    name = response.headers.get("x-photo", "none")
    assert browser.get(f"/api/photo/{name}/preview").status_code == 404


def test_a_grey_picture_is_refused(browser):
    grey = as_file(np.zeros((20, 20), np.uint8))
    assert "grey" in sent(browser, grey).json()["refused"]


def test_a_file_that_is_too_large_is_refused_while_it_comes_in(browser, plate, monkeypatch):
    monkeypatch.setattr(shelf, "MAX_BYTES", 1000)
    response = sent(browser, plate)
    assert response.status_code == 413
    assert "save it smaller" in response.json()["refused"]


def test_a_picture_with_too_many_pixels_is_refused_by_its_head(browser, monkeypatch):
    monkeypatch.setattr(
        photo_question, "load_codes", lambda _: pytest.fail("it must not be decoded")
    )
    head = struct.pack(">IIBBBBB", 9000, 9000, 8, 2, 0, 0, 0)
    chunk = b"IHDR" + head
    bomb = (
        b"\x89PNG\r\n\x1a\n"
        + struct.pack(">I", 13)
        + chunk
        + struct.pack(">I", zlib.crc32(chunk))
        + struct.pack(">I", 0) + b"IDAT" + struct.pack(">I", zlib.crc32(b"IDAT"))
    )  # fmt: skip
    assert "50 megapixels" in sent(browser, bomb).json()["refused"]


def test_of_a_photo_that_breaks_off_nothing_stays(tmp_path, monkeypatch):
    monkeypatch.setattr(shelf.tempfile, "mkdtemp", lambda **_: str(tmp_path))

    async def broken():
        yield b"half of it"
        raise ConnectionError

    async def taken_in():
        async with shelf.Uploads().receive(broken()):
            pytest.fail("it did not come in whole")

    with pytest.raises(ConnectionError):
        asyncio.run(taken_in())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("name", ["0" * 24, "../../etc/passwd", 7, ["x"], {"a": 1}])
def test_a_photo_that_is_not_here_is_refused(ask, name):
    said = ask("gauge", photo=name, film="TiO2", on="Ti", patch="1,1,9,9")["refused"]
    assert "drop it on the page again" in said


def test_a_patch_off_the_photo_is_refused(browser, ask, plate):
    name = sent(browser, plate).headers["x-photo"]
    said = ask("gauge", photo=name, film=FILM, on=ON, patch="290,150,40,40")["refused"]
    assert "leaves the picture" in said


def test_files_other_than_those_of_a_map_are_out_of_reach(browser, plate):
    name = sent(browser, plate).headers["x-photo"]
    for file in ("photo", "..%2fphoto", "../photo", "summary.json%00"):
        assert browser.get(f"/api/photo/{name}/map/{file}").status_code == 404


def test_the_shelf_holds_what_is_kept_until_it_is_cleared():
    held = shelf.Uploads()
    one, other = held.scratch(), held.scratch()
    assert one != other
    assert one.parent == other.parent
    assert not one.exists()
    photo = one / "photo"
    one.mkdir()
    photo.touch()
    held.keep("a", photo)
    assert [held.holds(name) for name in ("a", "b", None, ["a"])] == [True, False, False, False]
    assert held.path("a") == photo
    held.make_room()
    assert (held.holds("a"), one.exists(), one.parent.is_dir()) == (False, False, True)
    held.clear()
    assert not one.parent.exists()


def test_only_the_newest_photos_are_kept(browser, plate):
    first = sent(browser, plate).headers["x-photo"]
    for _ in range(shelf.MOST_PHOTOS):
        sent(browser, plate)
    assert browser.get(f"/api/photo/{first}/preview").status_code == 404


def test_the_map_comes_small_enough_to_draw_with_the_colours_of_its_film(browser, ask, plate):
    name = sent(browser, plate).headers["x-photo"]
    drawn = ask("map", photo=name, film=FILM, on=ON, white="220,20,30,20")["drawing"]
    size = drawn["width"] * drawn["height"]
    assert (drawn["width"], drawn["height"], drawn["step"]) == (300, 160, 1)
    median, low, high = (
        np.frombuffer(base64.b64decode(drawn[key]), "<u2") for key in ("median", "low", "high")
    )
    assert median.size == low.size == high.size == size
    inside = median.reshape(160, 300)[90, 100]
    assert 0 < low.reshape(160, 300)[90, 100] <= inside <= high.reshape(160, 300)[90, 100] < 2500
    assert 40.0 < drawn["robust_nm"][0] < drawn["robust_nm"][1] < 65.0
    seen = look(f"{FILM} {round(inside / 10)}nm / {ON}").reflected
    assert drawn["srgb_hex"][round(inside / 10)] == str(seen.srgb_hex)
    assert drawn["in_gamut"][round(inside / 10)] == seen.in_gamut
    assert len(drawn["in_gamut"]) == len(drawn["srgb_hex"])


def test_a_map_of_a_rectangle_has_nothing_outside_it(browser, ask, plate):
    name = sent(browser, plate).headers["x-photo"]
    found = ask("map", photo=name, film=FILM, on=ON, white="220,20,30,20", piece="30,60,100,80")
    median = np.frombuffer(base64.b64decode(found["drawing"]["median"]), "<u2").reshape(160, 300)
    assert (median[80:120, 40:120] < 65_535).mean() > 0.9
    assert (median[:, 140:] == 65_535).all()
    assert found["answer"]["median_nm"] < 47.0


def test_a_card_is_proposed_and_a_bad_one_named(browser, ask, plate):
    response = sent(browser, plate)
    x, y, w, h = response.json()["answer"]["card"]
    assert x >= 200
    assert x + w <= 280
    assert y >= 10
    assert y + h <= 50
    name = response.headers["x-photo"]
    assert ask("card", photo=name, white=f"{x},{y},{w},{h}")["answer"]["doubt"] == ""
    assert "coloured" in ask("card", photo=name, white="40,90,20,20")["answer"]["doubt"]


def test_spots_along_a_line_are_gauged_as_one_piece(browser, ask, plate):
    name = sent(browser, plate).headers["x-photo"]
    found = ask("row", photo=name, film=FILM, on=ON, white="220,20,30,20", line="60,100,240,100",
                spots=4, side=18)  # fmt: skip
    rows = found["answer"]["readings"]
    assert len(rows) == len(found["drawing"]["at"]) == 4
    true = [40.0 + 20.0 * (x - 30) / 239 for x, _ in found["drawing"]["at"]]
    inside = [row["interval90_nm"][0] - 1 <= nm <= row["interval90_nm"][1] + 1
              for row, nm in zip(rows, true, strict=True)]  # fmt: skip
    assert sum(inside) >= 3
    assert rows[0]["thickness_nm"] < rows[-1]["thickness_nm"]
    refused = ask("row", photo=name, film=FILM, on=ON, line="60,100,62,100", spots=4, side=18)
    assert "shorter than one mark" in refused["refused"]


def test_only_pictures_of_the_kinds_offered_are_opened(browser, monkeypatch):
    opened = []
    for name in ("DDS", "SPIDER", "JPEG2000", "AVIF", "ICO", "PCX"):
        monkeypatch.setitem(Image.OPEN, name, (lambda *_: opened.append(1), lambda _: True))
    for body in (
        b"DDS |\0\0\0" + b"\0" * 200,
        b"\0\0\0\x0cjP  \r\n\x87\n" + b"\0" * 99,
        b"x" * 999,
    ):
        response = sent(browser, body)
        assert response.status_code == 200
        assert "is not a JPEG, PNG" in response.json()["refused"]
    assert not opened


def png_of(width, height, bits, kind=6):
    """A PNG of any size in few bytes: one row of zeros again and again."""

    def chunk(name, data):
        sum_ = struct.pack(">I", zlib.crc32(name + data))
        return struct.pack(">I", len(data)) + name + data + sum_

    row = b"\0" * (1 + width * bits // 8 * {2: 3, 6: 4}[kind])
    packer = zlib.compressobj(9)
    pixels = b"".join([packer.compress(row) for _ in range(height)]) + packer.flush()
    head = struct.pack(">IIBBBBB", width, height, bits, kind, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", pixels) + chunk(b"IEND", b"")
    )


def test_a_small_file_of_many_deep_pixels_is_refused_by_its_header(browser):
    body = png_of(5000, 4100, 16)
    assert len(body) < 400_000
    refused = sent(browser, body).json()["refused"]
    assert "more than 20 megapixels of 16 bits a channel; scale it down" in refused


def test_a_full_disk_is_said_and_healed(browser, ask, plate, monkeypatch):
    kept = sent(browser, plate).headers["x-photo"]
    full = OSError(errno.ENOSPC, "No space left on device")

    async def no_room(*_):
        raise full

    with monkeypatch.context() as patched:
        patched.setattr(shelf, "read_body", no_room)
        response = sent(browser, plate)
    assert response.status_code == 507
    assert "no room on the disk for temporary files" in response.json()["refused"]
    assert "x-photo" not in response.headers
    assert not ask("kept", photo=kept)["answer"]["kept"]
    with monkeypatch.context() as patched:

        def fail(*_):
            raise full

        patched.setattr(photo_question, "_write_preview", fail)
        assert sent(browser, plate).status_code == 507
    assert sent(browser, plate).headers["x-photo"]


def test_too_little_memory_is_said(browser, plate, monkeypatch):
    def fail(*_):
        raise MemoryError

    monkeypatch.setattr(photo_question, "_write_preview", fail)
    assert "more memory than there is" in sent(browser, plate).json()["refused"]
