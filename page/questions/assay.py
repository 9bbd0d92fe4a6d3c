"""Is it metal, oxide, or something else?"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from ...optics.assay import inputs as read
from ...optics.assay.assay import assay
from ...optics.assay.expectation import expect
from ...optics.assay.observations import Observation
from ...optics.show.plain_assay import expectation_plain, verdict_plain
from ..fields import Fields


def assay_question(fields: Fields) -> dict[str, Any]:
    """What a film is, from what was noticed; the fields are named as the verb's options."""
    metal = fields.text("metal", "unknown")
    verdict = assay(
        list(_read_observations(fields, metal)),
        metal,
        fields.text("on", "glass"),
        1,
        fields.viewing(),
    )
    return {"answer": verdict_plain(verdict), "trusted": verdict.fits}


def expect_question(fields: Fields) -> dict[str, Any]:
    """What a good film should show."""
    return {
        "answer": expectation_plain(expect(fields.text("film"), fields.viewing())),
        "trusted": True,
    }


def _read_observations(fields: Fields, metal: str) -> Iterator[Observation]:
    viewing, how = fields.viewing(), fields.text_if("how")
    yield from (read.parse_front_colour(text, how, viewing) for text in fields.texts("seen"))
    yield from (read.parse_back_colour(text, how, viewing) for text in fields.texts("behind"))
    yield from (read.parse_light_through(text, how, viewing) for text in fields.texts("through"))
    yield from (read.parse_finish(text, viewing) for text in fields.texts("finish"))
    ohms = fields.text_if("ohms")
    if ohms is not None:
        yield read.parse_meter(ohms, fields.text_if("strip"), None)
    for name, reader in (
        ("wipe", read.parse_wipe),
        ("scratch", read.parse_scratch),
        ("warmed", read.parse_warmed),
        ("guess", read.parse_meant_thickness),
    ):
        text = fields.text_if(name)
        if text is not None:
            yield reader(text, viewing)
    pressure, rate = fields.text_if("pressure"), fields.text_if("rate")
    if pressure is not None and rate is not None:
        yield read.parse_deposition(metal, pressure, rate)
