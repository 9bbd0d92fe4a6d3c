"""The light and the observer a colour is meant for, as one value."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import InputError
from .illuminants import check_observer, resolve_illuminant


@dataclass(frozen=True)
class ViewingConditions:
    """The light a colour is meant for, kept by its CIE name, and the observer.

    Raises `InputError` if the light is not known or the observer is neither 2 nor 10 [degrees].
    """

    light: str = "D65"
    observer: int = 2

    def __post_init__(self) -> None:
        object.__setattr__(self, "light", resolve_illuminant(self.light))
        object.__setattr__(self, "observer", check_observer(self.observer))


def as_conditions(conditions: ViewingConditions | str | None) -> ViewingConditions:
    """Conditions from what a caller gave: themselves, the name of a light, or daylight."""
    if conditions is None:
        return ViewingConditions()
    if isinstance(conditions, ViewingConditions):
        return conditions
    if isinstance(conditions, str):
        return ViewingConditions(conditions)
    raise InputError(
        f"`conditions` must be ViewingConditions or a light such as 'A', not {conditions!r:.40}",
        parameter="conditions",
    )
