"""From colour to thickness: candidates for one spot, and the map of a whole piece."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from ...optics._typing import FloatArray
from ...optics.errors import InputError
from ...optics.gauge.candidates import told_region
from ...optics.gauge.gauge import gauge
from ...optics.gauge.photo import reading_from_picture
from ...optics.gauge.result import Estimate, ramp_of
from ...optics.images.patches import Patch, parse_patch
from ...optics.inference.measured import parse_light_share
from ...optics.inference.reading import Reading, parse_reading
from ...optics.report.document import words_of
from ...optics.report.json import plain
from ...optics.thickness_map.map_files import write_map
from ...optics.thickness_map.photo import map_photo
from ...optics.units import parse_range
from ..fields import Fields
from .map_drawing import draw_map
from .photo import picture_of

WIDEST_NM = 1_000.0
_ENOUGH = 40  # pixels across a mark that tell its colour while it moves
_LEAST_DE = 2.0  # noise of a colour that a dragged mark is read with at least
_WAYS = ("word", "photo", "card", "instrument")


def gauge_question(fields: Fields, photo: Path | None = None) -> dict[str, Any]:
    """Thickness from colours ``seen``, ``through``, ``behind``, or from a place on a photo."""
    estimate = _estimate(fields, photo)
    return {
        "answer": estimate.to_dict(),
        "drawing": _drawing(estimate),
        "trusted": estimate.fits,
    }


def glance_question(fields: Fields, photo: Path | None = None) -> dict[str, Any]:
    """The same while a mark is dragged: the candidates as they will be, without what to do next.

    With ``noise`` other than 1 the spot is taken for so many times as uneven: asked before a drag,
    it makes the tables that the drag will need.
    """
    estimate = _estimate(fields, photo, swiftly=fields.number("noise", 1.0, 0.5, 2.0))
    low, high = estimate.between_nm
    nm = np.arange(low, high + 0.5)
    said = {name: plain(getattr(estimate, name)) for name in ("candidates", "region90_nm", "fits")}
    return {"answer": said, "drawing": _drawn_over(estimate, nm), "trusted": estimate.fits}


def _estimate(fields: Fields, photo: Path | None, *, swiftly: float | None = None) -> Estimate:
    films, on = films_of(fields), fields.text("on")
    how = how_of(fields)
    looks = [parse_reading(text, how) for text in fields.texts("seen")]
    through = fields.texts("through")
    light = [text for text in through if parse_light_share(text)]
    looks += [parse_reading(text, how, view="through") for text in through if text not in light]
    looks += [parse_reading(text, how, view="back") for text in fields.texts("behind")]
    if photo is not None:
        spot = parse_patch(fields.text("patch"))
        looks.append(
            read_spot(fields, photo, spot)
            if swiftly is None
            else _read_swiftly(fields, photo, spot, times=swiftly)
        )
    return gauge(
        films,
        on,
        looks,
        through=light,
        ohms=fields.text_if("ohms"),
        between_nm=between_of(fields),
        conditions=fields.viewing(),
        finish=fields.text_if("finish"),
        have=fields.texts("have"),
    )


def read_spot(fields: Fields, photo: Path, spot: Patch, *, every: int = 1) -> Reading:
    """The colour of one place of a photo, by the references that are marked on it.

    Of large marks ``every`` so many pixels along and across are enough while one is dragged.
    """
    white, bare = (
        _shrunk(parse_patch(text), every) if (text := fields.text_if(name)) else None
        for name in ("white", "bare")
    )
    marked = _shrunk(spot, every)
    return reading_from_picture(
        picture_of(photo, marked, white, bare, every=every),
        marked,
        fields.text("on"),
        white=white,
        bare=bare,
        how=how_of(fields),
        name=photo.name,
    )


def _read_swiftly(fields: Fields, photo: Path, spot: Patch, *, times: float) -> Reading:
    """The same from fewer pixels, its noise to the next power of two: each new one needs tables."""
    every = max(1, int(min(spot.width, spot.height)) // _ENOUGH)
    found = read_spot(fields, photo, spot, every=1 if spot.percent else every)
    noise_de = float(np.exp2(np.ceil(np.log2(max(times * found.doubts.noise_de, _LEAST_DE)))))
    return replace(found, doubts=replace(found.doubts, noise_de=noise_de))


def _shrunk(patch: Patch, every: int) -> Patch:
    """A patch where it lies in a picture of every so many pixels."""
    if every == 1 or patch.percent:
        return patch
    width, height = (max(3.0, side // every) for side in (patch.width, patch.height))
    return Patch(patch.x // every, patch.y // every, width, height)


def map_question(fields: Fields, photo: Path | None = None) -> dict[str, Any]:
    """Thickness of every pixel; the files go beside the photo."""
    if photo is None:
        raise InputError("a map needs a photo: drop one on the page first")
    field = map_photo(
        photo,
        films_of(fields),
        fields.text("on"),
        white=fields.text_if("white"),
        bare=fields.text_if("bare"),
        how=how_of(fields),
        between_nm=between_of(fields),
        conditions=fields.viewing(),
        finish=fields.text_if("finish"),
        piece=fields.text_if("piece"),
    )
    written = write_map(field, photo.parent / "map")
    return {
        "answer": written.to_dict(),
        "headline": words_of(written.document().headline),
        "drawing": draw_map(written, fields.viewing()),
        "trusted": written.fits,
    }


def films_of(fields: Fields) -> list[str]:
    """The names of the films, given with commas between them."""
    films = [name.strip() for name in fields.text("film").split(",")]
    if not all(films):
        raise InputError("the film names nothing between two commas; part films by single commas")
    return films


def how_of(fields: Fields) -> str | None:
    """How the colour was read, if that is said."""
    how = fields.text_if("how")
    if how is not None and how not in _WAYS:
        raise InputError(f"a colour is read as {', '.join(_WAYS)}, not as {how!r}")
    return how


def between_of(fields: Fields) -> tuple[float, float]:
    """The least and the greatest thickness to look at, in nm."""
    low, high = parse_range(fields.text("between", "0..250nm"), "length_nm", "the range")
    if high > WIDEST_NM:
        raise InputError(f"the range ends at {high:g} nm; the page looks up to {WIDEST_NM:g} nm")
    return low, high


def _drawing(estimate: Estimate) -> dict[str, Any]:
    """The density and the colours beneath it, on one grid of whole nanometres."""
    nm, seen = ramp_of(estimate)
    parts = {name: plain(getattr(seen, name)) for name in ("srgb_hex", "name", "in_gamut")}
    return {"thickness_nm": nm.tolist()} | parts | _drawn_over(estimate, nm)


def _drawn_over(estimate: Estimate, nm: FloatArray) -> dict[str, Any]:
    return {
        "density": np.interp(nm, estimate.grid_nm, estimate.density).tolist(),
        "seen_hex": [reading.middle_hex for reading in estimate.seen],
        "told_nm": [plain(told_region(one)) for one in estimate.candidates],
    }
