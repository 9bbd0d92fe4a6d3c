"""Where a layer ends, in words for the bench."""

from __future__ import annotations

from .curves import LayerCue

_ORDINALS = ("1st", "2nd", "3rd")


def describe_stop(cue: LayerCue | None, nm: float, *, timed: bool) -> str:
    """Where a layer of ``nm`` ends by a reading, or some time after it turned; None for time."""
    if cue is None:
        return "its time"
    if cue.rule == "colour":
        return str(cue.srgb_hex)
    if cue.rule == "ohms":
        return f"{cue.stop:.3g} Ω per square"
    count = len(cue.turning_nm)
    if cue.rule == "turning point":
        return f"{_nth(count)} turning point, {_peak(cue)} ({format_reading(cue.turning[-1])})"
    if timed:
        share = (nm - cue.turning_nm[-1]) / nm
        return f"{share:.2f} of its time after the {_nth(count)} turning point"
    way = "rising" if cue.rises else "falling"
    if cue.ratio is None:
        return f"{format_reading(cue.stop)}, {way}"
    since = f"the {_nth(count)} turning point" if count else "the start"
    return f"{cue.ratio:.3g} × {since}, {way} ({format_reading(cue.stop)})"


def format_reading(share: float | None) -> str:
    """A share of the light in percent."""
    return "" if share is None else f"{100.0 * share:.3g} %"


def _nth(count: int) -> str:
    return _ORDINALS[count - 1] if count <= len(_ORDINALS) else f"{count}th"


def _peak(cue: LayerCue) -> str:
    before = cue.turning[-2] if len(cue.turning) > 1 else cue.start
    return "a maximum" if before is not None and cue.turning[-1] > before else "a minimum"
