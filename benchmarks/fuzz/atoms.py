"""What grammars draw with: numbers by their parts, words, texts, values of JSON, spoilt texts.

Everything is drawn from a ``Random``, so that one grammar serves two drivers: plain numbers in a
row, which are quick and can be gone on with, and hypothesis, which shrinks what fails. Extremes
come from lengths and parts, not from a list of values that once failed.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random
from typing import Any, TypeVar

One = TypeVar("One")
_SIGNS = "/|()[]{}<>=.,:;%#@'\"\\$&~^*+-–−_ \t\n\0\x1b\u202e\xa0\u2009½²³µΩé…💥"
_SCRIPTS = ("0123456789", "٠١٢٣٤٥٦٧٨٩", "０１２３４５６７８９")
_LONGEST = 5_000


def seldom(random: Random, share: float) -> bool:
    """Whether something happens that does so in this share of draws."""
    return random.random() < share


def digits(random: Random, longest: int = 3) -> str:
    """A row of digits, mostly short; once in forty as long as a few thousand."""
    length = random.randint(1, longest)
    if seldom(random, 0.025):
        length = min(_LONGEST, int(10 ** random.uniform(0.5, 3.7)))
    return "".join(str(random.randrange(10)) for _ in range(length))


def odd_number(random: Random) -> str:
    """A number by its parts: any of them missing, doubled, endless or of another script."""
    whole = digits(random)
    if seldom(random, 0.05):
        whole = whole.translate(str.maketrans(_SCRIPTS[0], random.choice(_SCRIPTS[1:])))
    parts = [random.choice(("", "", "", "-", "+", "−", "--")), whole]
    if seldom(random, 0.5):
        parts += [random.choice(".....,'_ "), digits(random, 2)]
    if seldom(random, 0.1):
        parts += [random.choice(",. "), digits(random)]
    if seldom(random, 0.15):
        parts += [random.choice("eEx^"), random.choice(("", "-", "+")), digits(random)]
    if seldom(random, 0.05):
        return random.choice(("nan", "inf", "-inf", "Infinity", "", "½", "1e", ".", "-"))
    return "".join(parts)


def plain_number(random: Random, low: float, high: float) -> tuple[str, float]:
    """A number as people write it, and what it is."""
    value = random.uniform(low, high)
    places = random.choice((0, 0, 1, 2, 3))
    text = f"{value:.{places}f}"
    if float(text) < low:
        text = f"{high:.{places}f}"
    form = random.randrange(8)
    if form == 0 and "." not in text:
        text += "."
    elif form == 1:
        text = f"{float(text):.4e}"
    elif form == 2 and text.startswith("0."):
        text = text[1:]
    elif form == 3:
        text = f"0{text}" if not text.startswith("-") else text
    elif form == 4 and not text.startswith("-"):
        text = f"+{text}"
    return text, float(text)


def text(random: Random, longest: int = 12) -> str:
    """A short text of any letters and signs."""
    length = random.randint(0, longest)
    return "".join(_letter(random) for _ in range(length))


def _letter(random: Random) -> str:
    kind = random.randrange(6)
    if kind < 3:
        return chr(random.randint(97, 122))
    if kind == 3:
        return str(random.randrange(10))
    if kind == 4:
        return random.choice(_SIGNS)
    point = random.randint(32, 0x10FFFF)
    return "\ud800" if seldom(random, 0.02) else "é" if 0xD800 <= point < 0xE000 else chr(point)


def spoilt(random: Random, whole: str, words: Sequence[str]) -> str:
    """A text with one part lost, doubled, moved, or another put in its place."""
    at = random.randrange(len(whole) + 1)
    end = min(len(whole), at + random.randint(1, 4))
    new = random.choice((random.choice(words), odd_number(random), text(random, 4)))
    forms = (
        whole[:at] + whole[end:], whole[:at] + new + whole[at:], whole[:at] + new + whole[end:],
        whole[:end] + whole[at:], whole[:at] + whole[end:] + whole[at:end], whole[:at],
    )  # fmt: skip
    return random.choice(forms)


def json_value(random: Random, depth: int = 2) -> Any:
    """Any value of JSON: whole numbers of any length, floats of any size, nested lists."""
    kind = random.randrange(9 if depth else 7)
    if kind == 0:
        return None
    if kind == 1:
        return seldom(random, 0.5)
    if kind == 2:
        return int(random.choice(("", "-")) + digits(random)[:4_000])
    if kind == 3:
        return random.choice((-1, 1)) * 10 ** random.uniform(-320, 308)
    if kind == 4:
        return random.choice((float("nan"), float("inf"), 0.0, -1.0, 1))
    if kind == 5:
        return text(random)
    if kind == 6:
        return "x" * int(10 ** random.uniform(0, 4))
    inner = [json_value(random, depth - 1) for _ in range(random.randrange(4))]
    return inner if kind == 7 else {text(random): one for one in inner}
