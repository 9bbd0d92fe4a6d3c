"""The light and the observer a colour is meant for, as one value."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Viewing:
    """The light and the observer a colour is meant for."""

    light: str = "D65"
    observer: int = 2
