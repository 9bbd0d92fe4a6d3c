"""Is it metal, oxide, or something else?"""

from __future__ import annotations

from typing import Any

from ...optics.assay.assay import assay
from ...optics.assay.expectation import expect
from ..fields import Fields

_SEVERAL = ("seen", "behind", "through", "finish", "trouble")
_SINGLE = ("ohms", "strip", "wipe", "scratch", "warmed", "guess", "pressure", "rate", "how",
           "base_finish")  # fmt: skip


def assay_question(fields: Fields) -> dict[str, Any]:
    """What a film is, from what was noticed; the fields are named as the verb's options."""
    said: dict[str, Any] = {name: fields.texts(name) for name in _SEVERAL}
    said |= {name: fields.text_if(name) for name in _SINGLE}
    if said["ohms"] is None:
        said["strip"] = None  # the form keeps it while there is no reading
    verdict = assay(
        **said,
        metal=fields.text("metal", "unknown"),
        on=fields.text("on", "glass"),
        conditions=fields.viewing(),
    )
    return {"answer": verdict.to_dict(), "trusted": verdict.fits}


def expect_question(fields: Fields) -> dict[str, Any]:
    """What a good film should show."""
    found = expect(fields.text("film"), conditions=fields.viewing())
    return {"answer": found.to_dict(), "trusted": True}
