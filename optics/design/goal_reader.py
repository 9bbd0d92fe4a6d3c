"""Reading a goal from its written form, left to right."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import fields

from ..errors import InputError, NotationError
from ..inference.reading import parse_reading
from ..units import NUMBER, parse_quantity
from .goals import FIXED_BANDS, PHASES, SPLITS, Goal
from .presets import expand_goals

_BAND_NM = (100.0, 100_000.0)
_STEEPEST_DEG = 89.0
_MOST_WEIGHT = 1000.0
_WORD = re.compile(r"[^\W\d_]+")
_RANGE = re.compile(rf"({NUMBER})\s*([^\W\d_]+|°)?\s*\.\.\s*({NUMBER})\s*([^\W\d_]+|°)?")
_ONE = re.compile(rf"({NUMBER})\s*([^\W\d_]+|°)?")
_ANGLE = re.compile(rf"({NUMBER})\s*(?:deg\b|°)")
_NUMBER = re.compile(rf"({NUMBER})")
_BARE = re.compile(NUMBER)
_MOST_DENSITY = 8.0
_MOST_DB = 10.0 * _MOST_DENSITY
_DB = re.compile(rf"(?P<sign>[-−]?)\s*(?P<amount>{NUMBER})\s*dB\b", re.IGNORECASE)
_DENSITIES = {
    "OD": (re.compile(rf"(?P<amount>{NUMBER})"), _MOST_DENSITY, "OD>3"),
    "attenuation": (_DB, _MOST_DB, "attenuation>30dB"),
}
"""How light kept back is written: its number, the most of it, and an example."""
_PERCENT = re.compile(rf"({NUMBER})\s*(%)?")
_HEAD = re.compile(
    r"(Rs-Rp|Ts-Tp|OD|attenuation|emittance|colour|color|phase|delta|Δ|(?:group\s+)?delay|GDD|GD|[RTA])"
    r"(?:(s|p)(?![^\W\d_]))?"
    r"(?:(vis|luminous|lum|solar|sol|mean|avg)(?![^\W\d_]))?(?![^\W\d_])"
)
_BEFORE = re.compile(r"(luminous|solar|mean|average)\b")
_WITHIN_OF = re.compile(r"within\b|±")
_OF = re.compile(r"of\b")
_RELATION = re.compile(r"([<>])\s*=?|([≥≤=])")
_COUNTS = {"vis": "luminous", "lum": "luminous", "sol": "solar", "avg": "mean", "average": "mean"}
_TIMES = re.compile(rf"[x×]\s*({NUMBER})")
_COLOUR = re.compile(rf"#[0-9a-fA-F]+|{NUMBER}\s*,\s*{NUMBER}\s*,\s*{NUMBER}")
_DEGREES = re.compile(rf"({NUMBER})\s*(?:deg\b|°)?")
_TIME = re.compile(rf"({NUMBER})\s*(fs|ps)\b")
_MOST_DEGREES, _MOST_FS, _FS_A_PS = 360.0, 10_000.0, 1000.0
_STOPS = ("at", "from", "through", "within", "s", "p")
_PLACES = "a band such as 420..680nm, 45deg, s, p, luminous, solar, mean, 'from back' or x2"
_LEAST_BARE_NM = 100.0  # a number without a unit from here on is a wavelength in nanometres


def as_goals(goals: str | Goal | Sequence[str | Goal]) -> tuple[Goal, ...]:
    """Goals from what a caller gave: one or several, as objects or as they are written.

    Raises
    ------
    InputError
        If it is none of these, or a text is refused.
    """
    several = [goals] if isinstance(goals, str | Goal) else goals
    if not isinstance(several, Sequence) or not all(isinstance(g, str | Goal) for g in several):
        raise InputError(
            f"`goals` is a goal such as 'R>95% 450..650nm', or a list of goals, not {goals!r:.80}",
            parameter="goals",
        )
    found: list[Goal] = []
    for goal in several:
        texts = [goal] if isinstance(goal, Goal) else expand_goals(goal)
        found += [parse_goal(text) if isinstance(text, str) else text for text in texts]
    return tuple(found)


def parse_goal(text: str) -> Goal:
    """Read a goal from its written form.

    Parameters
    ----------
    text : str
        For instance ``R>95% 420..680nm``, ``T=50% 550nm at 45deg p within 2%``,
        ``R<0.5% luminous 0..30deg``, ``colour #6a3fa0 from back x2``, ``emittance<5%``,
        ``delta=90deg 633nm at 45deg``, ``delay=20fs 750..850nm within 1fs``,
        ``Rs-Rp=0% 532nm at 45deg``.

    Returns
    -------
    Goal

    Raises
    ------
    NotationError
        If the text does not parse, or its parts contradict each other; it carries the position
        of the offending character.
    """
    return _GoalParser(text).read_goal()


class _GoalParser:
    """Reads one goal from left to right; ``at`` is the next character."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.found: dict[str, object] = {}
        self.places: dict[str, int] = {}

    def read_goal(self) -> Goal:
        self.read_head()
        while self.skip() < len(self.text):
            self.read_where()
        goal = Goal(**self.found)  # type: ignore[arg-type]  # each entry was read as its type
        self.check(goal)
        return goal

    # -- quantity and bound ----------------------------------------------------------------

    def read_head(self) -> None:
        start = self.skip()
        if before := self.match(_BEFORE):
            self.put("count", _COUNTS.get(before[1], before[1]), start)
            self.skip()
        word = self.match(_HEAD)
        if word is None:
            what = (
                "a goal starts with R, T, A, OD, emittance, colour, phase, delta or delay, as in "
                "R>95% 450..650nm"
            )
            raise self.error_at(what, start)
        name = {"color": "colour", "Δ": "delta", "GD": "delay"}.get(word[1], word[1].split()[-1])
        if name == "GDD":
            what = (
                "a dispersion of the delay is not asked for by itself; a delay that stays the same "
                "over a band has none: delay=20fs 750..850nm within 1fs"
            )
            raise self.error_at(what, start)
        self.found["quantity"] = "T" if name in _DENSITIES else name
        if word[2]:
            self.put("polarization", word[2], start)
        if word[3]:
            self.put("count", _COUNTS.get(word[3], word[3]), start)
        if name == "colour":
            self.found |= {"relation": "=", "colour": self.read_colour()}
            return
        sign = self.read_relation(name)
        if name in _DENSITIES:
            self.read_density(name, sign)
            return
        self.found["relation"] = sign
        if name in PHASES:
            self.read_amount(sign, start)
            return
        if name in SPLITS:
            self.found["percent"] = self.read_percent("such as 0%", -100.0, 100.0)
        else:
            self.found["percent"] = self.read_share("such as 95%")

    def read_relation(self, name: str) -> str:
        """``>``, ``<`` or ``=``; ``within 1% of`` is the last with its margin."""
        start = self.skip()
        if self.match(_WITHIN_OF):
            self.put("within", self.read_margin(), start)
            self.skip()
            if not self.match(_OF):
                raise self.error_at(f"expected 'of' and the target, as in {name} within 1% of 50%")
            return "="
        relation = self.match(_RELATION)
        if relation is None:
            raise self.error_at(f"expected '>', '<' or '=' after {name}")
        return relation[1] or {"≥": ">", "≤": "<", "=": "="}[relation[2]]

    def read_amount(self, sign: str, start: int) -> None:
        """A phase in degrees, or a delay in femtoseconds."""
        if self.found["quantity"] == "delay":
            self.found["amount"] = self.read_time("such as delay<20fs", -_MOST_FS)
            return
        if sign != "=":
            raise self.error_at("a phase comes round again, so it is a target: phase=90deg", start)
        self.found["amount"] = self.read_degrees("such as phase=90deg", -_MOST_DEGREES)

    def read_time(self, example: str, low: float) -> float:
        """A time from ``low`` up [fs]."""
        start = self.skip()
        match = self.match(_TIME)
        if match is None:
            raise self.error_at(f"expected a time in fs or ps, {example}", start)
        fs = float(match[1])
        if match[2] == "ps":
            fs = float(f"{_FS_A_PS * fs:.12g}")
        if not low <= fs <= _MOST_FS:
            raise self.error_at(f"must lie between {low:g} and {_MOST_FS:g} fs", start)
        return fs

    def read_degrees(self, example: str, low: float) -> float:
        """An angle of phase from ``low`` up [°]."""
        start = self.skip()
        match = self.match(_DEGREES)
        if match is None:
            raise self.error_at(f"expected degrees, {example}", start)
        if not low <= float(match[1]) <= _MOST_DEGREES:
            raise self.error_at(f"must lie between {low:g} and {_MOST_DEGREES:g} degrees", start)
        return float(match[1])

    def read_density(self, name: str, sign: str) -> None:
        """An optical density or an attenuation as the transmittance it means: ``T = 10^-OD``."""
        start = self.skip()
        pattern, most, example = _DENSITIES[name]
        match = self.match(pattern)
        if match is None or not 0.0 <= float(match["amount"]) <= most or sign == "=":
            said = "optical density" if name == "OD" else name
            what = f"expected a bound on the {said}, as {example}, up to {most:g}"
            raise self.error_at(what, start)
        self.found["relation"] = {">": "<", "<": ">"}[sign]
        self.found["percent"] = _percent_of(-float(match["amount"]) * _MOST_DENSITY / most)

    def read_share(self, example: str) -> float:
        """Percent, a fraction up to 1 without the sign, or decibels."""
        start = self.skip()
        if level := self.match(_DB):
            amount = float(level["amount"])
            if not level["sign"] and amount > 0.0:
                what = f"a share of the light is below 0 dB: -{amount:g}dB; or attenuation>30dB"
                raise self.error_at(what, start)
            if amount > _MOST_DB:
                raise self.error_at(f"must lie between -{_MOST_DB:g} and 0 dB", start)
            return _percent_of(-0.1 * amount)
        match = self.match(_PERCENT)
        if match is not None and match[2] is None and 0.0 < float(match[1]) <= 1.0:
            return float(f"{100.0 * float(match[1]):.12g}")
        self.at = start
        return self.read_percent(example, 0.0, 100.0)

    def read_percent(self, example: str, low: float, high: float) -> float:
        start = self.skip()
        match = self.match(_PERCENT)
        if match is None or match[2] is None:
            raise self.error_at(f"expected a number in percent, {example}", start)
        if not low <= float(match[1]) <= high:
            raise self.error_at(f"must lie between {low:g} % and {high:g} %", start)
        return float(match[1])

    def read_colour(self) -> str:
        """The colour that starts here, checked: hex, L*, a*, b*, or words up to the next part."""
        start = self.skip()
        if match := self.match(_COLOUR):
            text = re.sub(r"\s+", "", match[0])
        else:
            text = " ".join(self.read_words())
        if not text:
            raise self.error_at("expected a colour such as #6a3fa0, 48,20,-35 or purple", start)
        try:
            parse_reading(text)
        except InputError as error:
            raise self.error_at(str(error), start) from error
        return text

    def read_words(self) -> list[str]:
        found: list[str] = []
        while True:
            start = self.skip()
            match = self.match(_WORD)
            times = _TIMES.match(self.text, start)
            if match is None or match[0] in _STOPS or times:
                self.at = start
                return found
            found.append(match[0])
            if self.text[self.at : self.at + 1] == "-":
                self.at += 1

    # -- where and how ---------------------------------------------------------------------

    def read_where(self) -> None:
        """One part after the bound."""
        start = self.at
        if match := self.match(_RANGE):
            self.read_range(match, start)
        elif match := self.match(_TIMES):
            weight = float(match[1])
            if not 0.0 < weight <= _MOST_WEIGHT:
                raise self.error_at(f"a weight lies above 0, up to {_MOST_WEIGHT:g}", start)
            self.put("weight", weight, start)
        elif match := self.match(_WORD):
            self.read_word(match[0], start)
        elif self.text[self.at] == "±":
            self.at += 1
            self.put("within", self.read_margin(), start)
        elif match := self.match(_ANGLE):
            degrees = self.parse_angle(match[0].replace(" ", ""), start)
            self.put("angles_deg", (degrees, degrees), start)
        elif match := self.match(_ONE):
            nm = self.parse_length(match[1] + (match[2] or ""), start)
            self.put("band_nm", (nm, nm), start)
        else:
            raise self.error_at(f"expected {_PLACES}", start)

    def read_range(self, match: re.Match[str], start: int) -> None:
        unit = match[4] or ""
        if unit in ("deg", "°"):
            low = self.parse_angle(match[1] + (match[2] or unit), start)
            high = self.parse_angle(match[3] + unit, match.start(3))
            name = "angles_deg"
        else:
            low = self.parse_length(match[1] + (match[2] or unit), start)
            high = self.parse_length(match[3] + unit, match.start(3))
            name = "band_nm"
        if not low < high:
            raise self.error_at("a range runs upwards, as in 420..680nm", start)
        self.put(name, (low, high), start)

    def read_word(self, word: str, start: int) -> None:
        if word in ("s", "p"):
            self.put("polarization", word, start)
        elif word in ("luminous", "solar", "mean", "average"):
            self.put("count", _COUNTS.get(word, word), start)
        elif word == "through":
            self.put("view", "through", start)
        elif word == "from":
            side = self.next_word()
            if side not in ("front", "back"):
                raise self.error_at("expected 'from front' or 'from back'", start)
            self.put("view", side, start)
        elif word == "at":
            at = self.skip()
            match = self.match(_ONE)
            if match is None:
                raise self.error_at("expected an angle after 'at', such as 'at 45deg'", at)
            angle = self.parse_angle(match[0].replace(" ", ""), at)
            self.put("angles_deg", (angle, angle), start)
        elif word == "within":
            self.put("within", self.read_margin(), start)
        else:
            raise self.error_at(f"expected {_PLACES}", start)

    def read_margin(self) -> float:
        if self.found["quantity"] == "delay":
            return self.read_time("such as 'within 2fs'", 0.001)
        if self.found["quantity"] in PHASES:
            return self.read_degrees("such as 'within 5deg'", 0.001)
        if self.found["quantity"] != "colour":
            return self.read_percent("such as 'within 2%'", 0.001, 100.0)
        start = self.skip()
        match = self.match(_NUMBER)
        if match is None or not 0.01 <= float(match[1]) <= 200.0:
            raise self.error_at("expected a difference of colour, 0.01 to 200 of CIELAB", start)
        return float(match[1])

    def next_word(self) -> str:
        self.skip()
        match = self.match(_WORD)
        return match[0] if match else ""

    def parse_length(self, text: str, start: int) -> float:
        if _BARE.fullmatch(text) and float(text) >= _LEAST_BARE_NM:
            text += "nm"
        nm = self.parse_quantity(text, "length_nm", "the wavelength", start)
        if not _BAND_NM[0] <= nm <= _BAND_NM[1]:
            raise self.error_at("a wavelength lies between 100 nm and 100 um", start)
        return nm

    def parse_angle(self, text: str, start: int) -> float:
        degrees = self.parse_quantity(text, "angle_deg", "the angle", start)
        if not 0.0 <= degrees <= _STEEPEST_DEG:
            raise self.error_at(f"an angle lies between 0 and {_STEEPEST_DEG:g} degrees", start)
        return degrees

    def parse_quantity(self, text: str, dimension: str, what: str, start: int) -> float:
        try:
            return parse_quantity(text, dimension, what)
        except InputError as error:
            raise self.error_at(str(error), start) from error

    # -- what goes together ----------------------------------------------------------------

    def check(self, goal: Goal) -> None:
        """Refuse parts that contradict each other, at the character where they stand."""
        refused: list[tuple[str, str]] = []
        if goal.quantity in ("emittance", "colour"):
            what = "an emittance" if goal.quantity == "emittance" else "a colour"
            refused += [("band_nm", f"{what} has its own band"), ("count", f"{what} is a sum")]
        elif goal.count in FIXED_BANDS:
            low, high = FIXED_BANDS[goal.count]
            refused.append(("band_nm", f"a {goal.count} value counts {low:g} to {high:g} nm"))
        elif goal.band_nm is None:
            raise self.error_at(
                "the goal needs a band such as 420..680nm, or luminous or solar", len(self.text)
            )
        if goal.quantity == "emittance":
            refused += [
                ("angles_deg", "the emittance is that at right angles"),
                ("polarization", "the emittance counts both polarisations"),
            ]
        if goal.quantity in PHASES:
            refused.append(("count", "a phase and a delay are asked at every wavelength"))
        if goal.quantity in SPLITS:
            refused.append(("count", "a difference of s and p is asked at every wavelength"))
            refused.append(("polarization", f"{goal.quantity} speaks of both"))
        if goal.quantity == "delta":
            refused.append(("polarization", "delta is the phase of p less that of s"))
        elif goal.view == "through" and goal.quantity not in ("colour", *PHASES):
            refused.append(("view", "only a colour is seen through; write T for light let through"))
        if goal.relation != "=":
            refused.append(("within", "only a target has a 'within'; a bound is met or not"))
        for name, why in refused:
            if name in self.places:
                raise self.error_at(why, self.places[name])

    # -- characters ------------------------------------------------------------------------

    def put(self, name: str, value: object, start: int) -> None:
        if name in self.places:
            raise self.error_at(f"the {_SPOKEN[name]} is written twice", start)
        self.places[name] = start
        self.found[name] = value

    def skip(self) -> int:
        while self.at < len(self.text) and self.text[self.at].isspace():
            self.at += 1
        return self.at

    def match(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        match = pattern.match(self.text, self.at)
        if match:
            self.at = match.end()
        return match

    def error_at(self, what: str, at: int | None = None) -> NotationError:
        return NotationError(self.text, self.at if at is None else at, what)


def _percent_of(exponent: float) -> float:
    """Percent of the light, from the power of ten that it is."""
    return float(f"{100.0 * 10.0**exponent:.6g}")


_SPOKEN = {field.name: field.name for field in fields(Goal)} | {
    "band_nm": "band", "angles_deg": "angle", "polarization": "polarisation", "count": "mean",
    "view": "side",
}  # fmt: skip
