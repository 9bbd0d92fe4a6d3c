"""Numbers as people write them."""

from __future__ import annotations

import math
from collections.abc import Sequence


def format_percent(share: float) -> str:
    """A probability in words that never claims certainty."""
    if share < 0.01:
        return "under 1 %"
    return "over 99 %" if share > 0.99 else f"{100.0 * share:.0f} %"


def format_interval(interval: tuple[float, float]) -> str:
    """An interval of thickness in words; one that is open upward has no end."""
    if math.isinf(interval[1]):
        return f"at least {interval[0]:.0f} nm"
    return f"{interval[0]:.0f} to {interval[1]:.0f} nm"


def format_region(region: Sequence[tuple[float, float]], digits: int = 0) -> str:
    """A set of intervals of thickness in words: ``31–45 or 140–156 nm``."""
    known = sorted(region)
    parts = [f"{low:.{digits}f}–{high:.{digits}f}" for low, high in known if math.isfinite(high)]
    beyond = [f"at least {low:.{digits}f}" for low, high in known if math.isinf(high)]
    return f"{join_either([*parts, *beyond])} nm"


def join_either(parts: Sequence[str]) -> str:
    """Alternatives in words: ``a, b or c``."""
    *first, last = parts
    return f"{', '.join(first)} or {last}" if first else last


def format_ordinal(order: int) -> str:
    """1st, 2nd, 3rd ..."""
    return {1: "1st", 2: "2nd", 3: "3rd"}.get(order, f"{order}th")


def format_count(count: int, noun: str) -> str:
    """A number of things: ``1 test piece``, ``5 test pieces``."""
    return f"{count} {noun}{'' if count == 1 else 's'}"


def format_angle(angle_deg: float) -> str:
    """An angle of incidence as people say it."""
    return f"{angle_deg:g}° from straight on" if angle_deg else "looked at straight on"


def format_scientific(value: float, digits: int = 2) -> str:
    """A number with its power of ten: ``1 × 10⁻⁵``, ``2.4 × 10³``."""
    mantissa, _, power = f"{value:.{digits - 1}e}".partition("e")
    mantissa = mantissa.rstrip("0").rstrip(".") if "." in mantissa else mantissa
    return f"{mantissa} × 10{str(int(power)).translate(_RAISED)}"


_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def format_ohm(ohm: float) -> str:
    """A resistance with a prefix: 12 Ω, 4.7 kΩ, 30 MΩ."""
    factor, prefix = next((pair for pair in ((1e6, "M"), (1e3, "k")) if ohm >= pair[0]), (1.0, ""))
    value = ohm / factor
    return f"{value:.0f} {prefix}Ω" if value >= 10.0 else f"{value:.1f} {prefix}Ω"


def format_factor(decibans: float) -> str:
    """How far a finding moves the odds: ``20 times likelier``, ``3 times less likely``."""
    factor = 10.0 ** (abs(decibans) / 10.0)
    if factor < 1.25:
        return "hardly any difference"
    times = "over a million" if factor > 1e6 else f"{float(f'{factor:.2g}'):,.10g}"
    return f"{times} times {'likelier' if decibans > 0.0 else 'less likely'}"
