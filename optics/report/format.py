"""Numbers as people write them."""

from __future__ import annotations


def format_percent(share: float) -> str:
    """A probability in words that never claims certainty."""
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{100.0 * share:.0f} %"


def format_interval(interval: tuple[float, float]) -> str:
    """An interval of thickness in words."""
    return f"{interval[0]:.0f} to {interval[1]:.0f} nm"


def format_ordinal(order: int) -> str:
    """1st, 2nd, 3rd ..."""
    return {1: "1st", 2: "2nd", 3: "3rd"}.get(order, f"{order}th")


def format_angle(angle_deg: float) -> str:
    """An angle of incidence as people say it."""
    return f"{angle_deg:g}° from straight on" if angle_deg else "looked at straight on"


def format_duration(seconds: float) -> str:
    """A time in the units people set a clock by: ``45 s``, ``4 min 27 s``, ``3 h 20 min``."""
    whole = round(seconds)
    if seconds < 10.0:
        return f"{seconds:.2g} s"
    if whole < 120:
        return f"{whole} s"
    minutes, s = divmod(whole, 60)
    if minutes < 60:
        return f"{minutes} min {s} s" if s else f"{minutes} min"
    hours, minutes = divmod(round(seconds / 60.0), 60)
    return f"{hours} h {minutes} min" if minutes else f"{hours} h"


def format_scientific(value: float, digits: int = 2) -> str:
    """A number with its power of ten: ``1 × 10⁻⁵``, ``2.4 × 10³``."""
    mantissa, _, power = f"{value:.{digits - 1}e}".partition("e")
    mantissa = mantissa.rstrip("0").rstrip(".") if "." in mantissa else mantissa
    return f"{mantissa} × 10{str(int(power)).translate(_RAISED)}"


_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")
