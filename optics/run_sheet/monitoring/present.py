"""How a run is followed, as blocks of its sheet."""

from __future__ import annotations

from collections.abc import Sequence

from ...report.document import Block, Heading, Line, Note, Swatch, Table
from .curves import LayerCue
from .follow import LayerWatch
from .monitor import Monitoring
from .strategies import Strategy
from .words import format_reading


def present_monitoring(found: Monitoring) -> list[Block]:
    """What to watch in each layer, when to stop, and the strategies compared."""
    goals = "; ".join(found.goals)
    blocks: list[Block] = [
        Heading("How to follow it"),
        _layer_table(found.to_come),
        *(f"Before step {one.step}: put in a fresh chip." for one in found.to_come
          if one.fresh_chip),
        Heading("Ways to end the layers, in simulated runs"),
        _strategy_table(found),
        Note(
            f"Good pieces meet {goals}; {found.samples} runs each, errors {found.errors} of time, "
            f"seed {found.seed}."
        ),
        *(Note(f"{note[:1].upper()}{note[1:]}.") for note in found.notes),
    ]  # fmt: skip
    return blocks


def _layer_table(watches: Sequence[LayerWatch]) -> Table:
    rows: list[list[Line]] = [
        [
            str(one.step),
            f"{one.material} {one.thickness_nm:.1f} nm",
            "time" if one.chosen is None else one.chosen.watched,
            _way(one.chosen),
            _stop(one),
            "" if one.sd_nm is None else f"± {one.sd_nm:.1f} nm",
            f"± {one.timed_sd_nm:.1f} nm",
        ]
        for one in watches
    ]
    head = ["step", "layer", "watch", "from, to", "stop at", "error", "by time"]
    return Table(head, rows, optional=["by time", "from, to"])


def _strategy_table(found: Monitoring) -> Table:
    rows: list[list[Line]] = [
        [
            way.strategy,
            _share(way, found.samples),
            f"± {max(way.sd_nm):.1f} nm",
            str(way.fresh_chips) if way.fresh_chips else "",
        ]
        for way in found.strategies
    ]
    return Table(["way", "good pieces", "worst layer", "fresh chips"], rows)


def _share(way: Strategy, samples: int) -> str:
    """Good pieces in percent; where all or none were, the error is that of one piece more."""
    error = max(way.yield_error, 1.0 / samples)
    return f"{100.0 * way.yield_share:.0f} ± {100.0 * error:.1g} %"


def _stop(watch: LayerWatch) -> Line:
    colour = watch.chosen is not None and watch.chosen.rule == "colour"
    return Swatch(watch.stop_at) if colour else watch.stop_at


def _way(cue: LayerCue | None) -> str:
    if cue is None or cue.start is None:
        return ""
    return " → ".join(format_reading(value) for value in (cue.start, *cue.turning, cue.stop))
