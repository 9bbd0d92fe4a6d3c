"""Every verb with every field it takes, as its own command answers it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from ...optics.errors import InputError
from ..fields import Fields

KEPT = ("look", "tint", "gauge", "assay")
"""Verbs whose answers a phone may keep: those it may ask, none of which runs for minutes."""


@dataclass(frozen=True)
class Verbs:
    """The verbs as the command line has them; given from above, since it serves the page.

    Attributes
    ----------
    describe : callable
        The forms of all verbs.
    run : callable
        The answer of one, as ``cli.forms.run_verb`` documents.
    """

    describe: Callable[[], list[dict[str, Any]]]
    run: Callable[..., dict[str, Any]]


def forms_question(verbs: Verbs) -> dict[str, Any]:
    """Every verb's fields, by which the page draws its forms."""
    return {"answer": verbs.describe(), "trusted": True}


def verb_question(
    fields: Fields, photo: Path | None, verbs: Verbs, tell: Callable[[str], None]
) -> dict[str, Any]:
    """The answer of ``verb`` to what was ``given``, in the ``face`` asked for."""
    return verbs.run(
        fields.text("verb"),
        fields.table("given"),
        fields.table("files"),
        photo,
        face=fields.text("face", "page"),
        tell=tell,
    )


def keep_question(
    fields: Fields, photo: Path | None, verbs: Verbs, tell: Callable[[str], None]
) -> dict[str, Any]:
    """The same of the few verbs that a phone may ask."""
    if fields.text("verb") not in KEPT:
        raise InputError(f"a phone keeps answers of {', '.join(KEPT)}; ask on the computer's page")
    return verb_question(fields, photo, verbs, tell)
