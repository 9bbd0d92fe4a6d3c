"""A map on disk: numbers that read back as they were, charts, a summary; also when nothing fits."""

import json
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from oxhue.optics.errors import InputError
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.thickness_map.map_files import write_map
from oxhue.optics.thickness_map.plots import plot_field, plot_histogram
from oxhue.optics.thickness_map.result import FieldMap


def field(known=True):
    nm = np.tile(np.linspace(20.0, 59.0, 40, dtype=np.float32), (30, 1))
    order = np.ones(nm.shape, dtype=np.uint8)
    order[:, 30:] = 2
    gone = slice(0, 5) if known else slice(None)
    nm[gone], order[gone] = np.nan, 0
    return FieldMap(
        median_nm=nm, low_nm=nm - 3.0, high_nm=nm + 4.0, order=order,
        share_fitted=float(np.mean(order > 0)), films=("TiO2",), on="Ti",
        doubts=DEFAULTS["card"], pairs=list_film_models(["TiO2"], "Ti"),
        notes=("the picture was halved",),
    )  # fmt: skip


def said(one, folder, files):
    return replace(one, folder=str(folder), files=tuple(files)).summary()


@pytest.mark.parametrize("numbers", ["tiff", "npz"])
def test_numbers_read_back_as_they_were(numbers, tmp_path):
    one = field()
    files = write_map(one, tmp_path / "new", numbers=numbers, line=(0, 10, 39, 10)).files
    assert list(files) == [
        f"thickness.{numbers}", "map.png", "histogram.png", "profile.png", "summary.json",
    ]  # fmt: skip
    assert sorted(files) == sorted(path.name for path in (tmp_path / "new").iterdir())
    path = tmp_path / "new" / files[0]
    assert path.stat().st_size < 2 * one.median_nm.nbytes  # of four pages: it is compressed
    if numbers == "npz":
        with np.load(path) as held:
            back = [held[name] for name in ("median_nm", "low_nm", "high_nm", "order")]
    else:
        with Image.open(path) as image:
            back = []
            for page in range(image.n_frames):
                image.seek(page)
                back.append(np.array(image))
        back[3] = np.nan_to_num(back[3])
    for found, written in zip(
        back, (one.median_nm, one.low_nm, one.high_nm, one.order), strict=True
    ):
        np.testing.assert_array_equal(found, written)
    summary = json.loads((tmp_path / "new" / "summary.json").read_text("utf-8"))
    assert summary["files"] == list(files)
    assert summary["size"] == [40, 30]
    assert summary["median_nm"] == pytest.approx(39.5)
    assert summary["pixel_interval90_width_nm"] == pytest.approx(7.0)
    assert summary["orders"] == {"1": pytest.approx(0.625), "2": pytest.approx(0.625 / 3.0)}


def test_a_map_on_which_nothing_fits_says_so(tmp_path):
    empty = field(known=False)
    plain = json.loads(json.dumps(empty.to_dict(), allow_nan=False))
    assert plain["median_nm"] is None
    assert plain["interval90_nm"] == [None, None]
    assert plain["orders"] == {}
    text = said(empty, tmp_path, ["summary.json"])
    assert text.startswith("Nothing fits")
    assert "0 % of the picture" in text
    assert "Note: the picture was halved." in text
    assert plot_field(empty).images
    assert not plot_histogram(empty).collections
    assert "thinner than 40 nm" in said(field(), tmp_path, [])


def test_what_cannot_be_written_is_refused_before_anything_is(tmp_path):
    with pytest.raises(InputError, match="tiff or npz, not as 'csv'"):
        write_map(field(), tmp_path / "new", numbers="csv")
    with pytest.raises(InputError, match="must join two pixels of the picture of 40 x 30"):
        write_map(field(), tmp_path / "new", line=(0, 0, 40, 0))
    assert not (tmp_path / "new").exists()


def test_a_second_map_does_not_mix_with_the_first(tmp_path):
    (tmp_path / "notes.txt").write_text("of the owner", "utf-8")
    write_map(field(), tmp_path, numbers="npz", line=(0, 10, 39, 10))
    (tmp_path / "of the owner.npz").write_bytes(b"")
    files = write_map(field(), tmp_path).files
    assert sorted(path.name for path in tmp_path.iterdir()) == sorted(
        [*files, "notes.txt", "of the owner.npz"]
    )


@pytest.mark.parametrize(
    "summary",
    ['{"files": ["kept.png", "../x", 5]}', '{"files": 5}', "[" * 100_000, "[]", "\x00"],
    ids=["others", "a number", "nested", "a list", "no text"],
)
def test_a_summary_that_is_not_ours_takes_nothing_away(summary, tmp_path):
    (tmp_path / "summary.json").write_text(summary, "utf-8")
    (tmp_path / "kept.png").write_bytes(b"")
    write_map(field(), tmp_path)
    assert (tmp_path / "kept.png").exists()
