"""The light and the observer a colour is meant for, as one value."""

from __future__ import annotations

from dataclasses import dataclass

from ..errors import InputError
from .illuminants import check_observer, resolve_illuminant


@dataclass(frozen=True)
class ViewingConditions:
    """The light and the observer a colour is meant for.

    Attributes
    ----------
    light : str
        Name of an illuminant, in any spelling; kept by its CIE name.
    observer : int
        2 or 10 [degrees of the field].

    Raises
    ------
    UnknownNameError
        If the light is not known.
    InputError
        If the observer is neither of the two.
    """

    light: str = "D65"
    observer: int = 2

    def __post_init__(self) -> None:
        object.__setattr__(self, "light", resolve_illuminant(self.light))
        object.__setattr__(self, "observer", check_observer(self.observer))


def as_conditions(conditions: ViewingConditions | str | None) -> ViewingConditions:
    """Conditions from what a caller gave: themselves, the name of a light, or daylight.

    Raises
    ------
    InputError
        If it is neither, or the light is not known.
    """
    if conditions is None:
        return ViewingConditions()
    if isinstance(conditions, ViewingConditions):
        return conditions
    if isinstance(conditions, str):
        return ViewingConditions(conditions)
    raise InputError(
        f"conditions are a Viewing or the name of a light such as 'A', not {conditions!r}",
        parameter="conditions",
    )
