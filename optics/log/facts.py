"""What can be recorded of a setup, a run, a piece and a look, each checked as it is written.

Everything is kept in the user's own words, ``4.8A`` and ``12min``, and read again when it is used.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from ..errors import InputError, shorten, suggest_nearest
from ..units import parse_quantity

if TYPE_CHECKING:
    from ..assay.observations import Observation
    from ..files.spectrum import Spectrum

Check = Callable[[str, str], object]
"""Takes what was written and what it is for; raises InputError."""

KINDS = ("chamber", "kiln", "flame")
LONGEST_TEXT = 2_000
_UNKEPT = re.compile(r"[\x00\ud800-\udfff]")  # what no file of words can hold
_LONGEST_FILE = 20_000  # bytes of a jar's description


_REACH: dict[str, tuple[float, float, str]] = {
    "length_mm": (0.01, 1e4, "mm"), "length_nm": (0.0, 1e6, "nm"), "current_A": (1e-4, 1e5, "A"),
    "voltage_V": (1.0, 1e5, "V"), "rate_nm_s": (1e-6, 1e4, "nm/s"), "time_s": (0.1, 1e7, "s"),
    "pressure_mbar": (1e-12, 1100.0, "mbar"), "angle_deg": (0.0, 90.0, "°"),
    "temperature_C": (-50.0, 2000.0, "°C"), "mass_g": (1e-6, 1e3, "g"),
}  # fmt: skip
"""What a run, a piece or a meter can reach at all (judgement): beyond it, a unit is mistaken."""


def _quantity(dimension: str, low: float | None = None, high: float | None = None) -> Check:
    """A number with a unit within what can be, or within closer limits."""
    lowest, highest, unit = _REACH[dimension]
    least = lowest if low is None else low
    most = highest if high is None else high

    def check(text: str, what: str) -> None:
        if not least <= parse_quantity(text, dimension, what) <= most:
            raise InputError(f"{what} is {shorten(text)}; it must be {least:g} to {most:g} {unit}")

    return check


def _one_of(*words: str) -> Check:
    def check(text: str, what: str) -> None:
        if text not in words:
            hint = suggest_nearest(text, list(words))
            raise InputError(
                f"{what} {shorten(text)!r} is not one of {', '.join(words)}"
                + (f"; {hint}" if hint else "")
            )

    return check


def _material(text: str, _: str) -> None:
    from ..films.materials.catalogue import find_entry

    find_entry(text)


def _base(text: str, what: str) -> None:
    from ..films.notation import parse_stack

    if parse_stack(text).all_layers:
        raise InputError(f"{what} {shorten(text)!r} must be bare, such as glass")


_LENGTH = _quantity("length_mm")


def _two_lengths(text: str, what: str) -> None:
    parts = text.split(",")
    if len(parts) != 2:
        raise InputError(f"{what} {shorten(text)!r} is not two lengths such as 5mm,0.8mm")
    for part in parts:
        _LENGTH(part.strip(), what)


def _flushes(text: str, _: str) -> None:
    from ..deposition.history import parse_flush

    parse_flush(text)


def _profile(text: str, what: str) -> None:
    from .heat_profile import parse_profile

    _words(text, what)
    parse_profile(text)


def _spectrum(text: str, what: str) -> None:
    from .spectra import parse_spectrum

    _words(text, what)
    parse_spectrum(text)


def _words(text: str, what: str) -> None:
    if len(text) > LONGEST_TEXT:
        raise InputError(
            f"{what} is longer than {LONGEST_TEXT:,} letters", parameter=what.strip("`")
        )
    if _UNKEPT.search(text):
        raise InputError(
            f"{what} {shorten(text)!r} holds a NUL or half of a letter, no words",
            parameter=what.strip("`"),
        )


def _flag(text: str, what: str) -> None:
    _one_of("yes", "no")(text, what)


DONE: dict[str, dict[str, Check]] = {
    "chamber": {
        "source": _one_of("point", "plane", "wire", "boat", "sputter"),
        "metal": _material,
        "wire": _material,
        "wire_diameter": _LENGTH,
        "wire_length": _LENGTH,
        "coil": _two_lengths,
        "current": _quantity("current_A"),
        "volts": _quantity("voltage_V"),
        "rate": _quantity("rate_nm_s"),
        "charge": _quantity("mass_g"),
        "time": _quantity("time_s"),
        "distance": _LENGTH,
        "gauge_reading": _quantity("pressure_mbar"),
        "base_pressure": _quantity("pressure_mbar", high=10.0),
        "working_gas": _one_of("argon"),
        "working_pressure": _quantity("pressure_mbar"),
        "flush": _flushes,
        "mask": _words,
        "plastic": _flag,
        "melted": _flag,
        "new_wire": _flag,
        "pumped": _quantity("time_s", low=0.0),
    },
    "kiln": {
        "metal": _material,
        "at": _quantity("temperature_C"),
        "time": _quantity("time_s"),
        "profile": _profile,
    },
}
DONE["flame"] = DONE["kiln"]
"""What can be said of a run, by the kind of its setup."""

OF_SOURCE = {
    "wire": ("wire", "wire_diameter", "wire_length", "coil", "new_wire", "melted"),
    "sputter": ("volts",),
}
"""What is said of one kind of source alone."""
_OF_ITS_PACE = ("current", "rate", "charge")
"""What means another thing for another source."""
USUAL_SOURCE = "wire"


def source_of(done: Mapping[str, str], usual: Mapping[str, str]) -> str:
    """The kind of source of a run, from what is said of it or of its setup."""
    return done.get("source", usual.get("source", USUAL_SOURCE))


def of_other_sources(kind: str) -> set[str]:
    """What is said of other kinds of source alone."""
    return {name for of, names in OF_SOURCE.items() if of != kind for name in names}


def check_source(done: Mapping[str, str], usual: Mapping[str, str]) -> None:
    """Refuse what is said of another kind of source than the run's.

    Parameters
    ----------
    done, usual : mapping
        What is said of the run, and of the source of its setup.

    Raises
    ------
    InputError
        If something is.
    """
    own = source_of(done, usual)
    for name in done:
        if name in of_other_sources(own):
            kind = next(of for of, names in OF_SOURCE.items() if name in names)
            raise InputError(
                f"`{name}` is of a {kind} source, and this source is {own}; say `source` {kind}, "
                f"or leave `{name}` out",
                parameter=name,
            )


def repeat_source(facts: Mapping[str, str], was: str, now: str) -> dict[str, str]:
    """What was said of one kind of source, as far as it holds of another: all, of the same."""
    if was == now:
        return dict(facts)
    left = of_other_sources(now) | {"source", *_OF_ITS_PACE}
    return {name: text for name, text in facts.items() if name not in left}


OUTCOMES = ("melted", "new_wire", "base_pressure", "gauge_reading")
"""What is said of one run alone: a run like it does not say so again."""


def repeat_done(done: Mapping[str, str]) -> dict[str, str]:
    """What a run does that is like another; what the gauge read is its working pressure or news."""
    said = {name: text for name, text in done.items() if name not in OUTCOMES}
    if "working_gas" in done and "working_pressure" not in done and "gauge_reading" in done:
        said["gauge_reading"] = done["gauge_reading"]
    return said


PIECE: dict[str, Check] = {
    "on": _base,
    "metal": _material,
    "distance": _LENGTH,
    "offset": _quantity("length_mm", low=0.0),
    "tilt": _quantity("angle_deg"),
    "place": _words,
}
"""What can be said of a piece."""


def _look(what: str) -> Check:
    """A look in the words of `assay`, square on."""

    def check(text: str, _: str) -> None:
        from ..assay import inputs
        from ..colour.conditions import ViewingConditions

        square_on = ViewingConditions()
        if what == "seen":
            inputs.parse_colour(text, None, square_on)
        elif what == "behind":
            inputs.parse_colour(text, None, square_on, view="back")
        elif what == "through":
            inputs.parse_light_through(text, None, square_on)
        elif what == "ohms":
            inputs.parse_meter(text)
        else:
            inputs.parse_kind(what, text, square_on)

    return check


PHOTO_ENDINGS = ".jpg", ".jpeg", ".png", ".tif", ".tiff", ".webp", ".bmp", ".heic", ".heif"
_PHOTO_NAME = re.compile(rf"[0-9a-f]{{64}}(?:{'|'.join(map(re.escape, PHOTO_ENDINGS))})")


def check_photo_name(text: str, what: str) -> None:
    """Refuse what is not the name a photo has in a log: its hash and ending."""
    if _PHOTO_NAME.fullmatch(text) is None:
        raise InputError(f"{what} {shorten(text)!r} is not the name of a photo kept by a log")


def parse_weight(text: str) -> Observation:
    """Mass that a piece gained, on how large a surface: ``0.35mg on 12cm2``."""
    from ..assay.inputs import parse_gained_mass
    from ..colour.conditions import ViewingConditions

    mass, on, area = text.partition(" on ")
    if not on:
        raise InputError(
            f"`weight` {shorten(text)!r} is not a mass gained on an area, such as 0.35mg on 12cm2",
            parameter="weight",
        )
    return parse_gained_mass(mass, area.strip(), ViewingConditions())


OBSERVED: dict[str, Check] = {
    **{
        what: _look(what)
        for what in ("seen", "behind", "through", "ohms", "finish", "wipe", "scratch", "warmed")
    },
    "weight": lambda text, _: parse_weight(text),
    "thickness": _quantity("length_nm"),
    "spectrum": _spectrum,
    "remark": _words,
    "photo": check_photo_name,
    "answer": _words,
    "link": _words,
}
"""What can be seen or measured of a piece, in the words of ``gauge`` and ``assay``; what a question
answered about it, and where the page asks it again."""


def check_facts(said: Mapping[str, object], known: Mapping[str, Check]) -> dict[str, str]:
    """What was said, as text; what was not given is left out.

    Parameters
    ----------
    said : mapping
        Text by name; None or False for what was not said, True for yes.
    known : mapping
        The check of each name that can be said.

    Raises
    ------
    InputError
        If a name is not known, or what is said under it is refused.
    """
    kept = {}
    for name, value in said.items():
        if value is None or value is False:
            continue
        if name not in known:
            hint = suggest_nearest(name, list(known))
            raise InputError(
                f"`{name}` cannot be recorded here; there are {', '.join(known)}"
                + (f"; {hint}" if hint else ""),
                parameter=name,
            )
        text = "yes" if value is True else value
        if not isinstance(text, str) or not text.strip():
            raise InputError(f"`{name}` is a text with a unit, not {value!r:.80}", parameter=name)
        known[name](text.strip(), f"`{name}`")
        kept[name] = text.strip()
    return kept


def in_words(noted: str | Spectrum | Sequence[str | Spectrum]) -> list[str]:
    """What was noticed, one or several, each in words: a spectrum as a log keeps it."""
    if isinstance(noted, str):
        return [noted]
    from ..files.spectrum import Spectrum
    from .spectra import as_words

    return [as_words(one) for one in ([noted] if isinstance(noted, Spectrum) else noted)]


def read_places(places: Mapping[str, str] | None) -> dict[str, dict[str, str]]:
    """Places where pieces lie, by name: ``{"rim": "7cm,2cm,30"}``, distance, offset and tilt.

    Raises
    ------
    InputError
        If one is refused.
    """
    read = {}
    for name, text in (places or {}).items():
        parts = [part.strip() for part in str(text).split(",")]
        if not name.strip() or len(parts) > 3:
            raise InputError(
                f"a place is a name and its distance, offset and tilt, such as rim=7cm,2cm,30, "
                f"not {shorten(f'{name}={text}')!r}",
                parameter="places",
            )
        said = dict(zip(("distance", "offset", "tilt"), parts, strict=False))
        read[name.strip()] = check_facts(said, PIECE)
    return read


_SETUP = ("jar", "places", "usual", "note")
USUAL = ("source", "metal", "wire", "wire_diameter", "wire_length", "coil", "distance")
"""What can be said of a chamber's source once for all its runs."""


def usual_of(facts: Mapping[str, object]) -> dict[str, str]:
    """What the runs of a setup did where they do not say otherwise."""
    held = facts.get("usual")
    if not isinstance(held, dict):
        return {}
    return {name: text for name, text in held.items() if name in USUAL and isinstance(text, str)}


def settle_heat(before: Mapping[str, str], said: Mapping[str, str]) -> dict[str, str]:
    """What a run does that is like another but for what is said: one heat, not two.

    Raises
    ------
    InputError
        If a profile and a temperature or time are said together.
    """
    steady = {"at", "time"} & set(said)
    if "profile" in said and steady:
        raise InputError(
            f"`profile` says the whole heat; leave out `{min(steady)}`", parameter=min(steady)
        )
    other = {"at", "time"} if "profile" in said else {"profile"} if steady else set()
    return {name: text for name, text in before.items() if name not in other} | dict(said)


def complete_done(
    done: Mapping[str, str], facts: Mapping[str, object], before: Mapping[str, str]
) -> dict[str, str]:
    """What a run of a chamber did, with what it does not say again.

    That is the usual source of its setup and, where no leak is known, the pressure that the pump
    holds: one reading of it holds until the next.

    Parameters
    ----------
    done : mapping
    facts : mapping
        Of its setup.
    before : mapping
        What the run before it did, complete.
    """
    usual = usual_of(facts)
    whole = {**repeat_source(usual, source_of({}, usual), source_of(done, usual)), **done}
    jar = facts.get("jar")
    measured = isinstance(jar, dict) and ("leak" in jar or "rise" in jar)
    if measured or "base_pressure" in whole:
        return whole
    if "base_pressure" in before:
        whole["base_pressure"] = before["base_pressure"]
    elif "gauge_reading" in before and "working_gas" not in {**before, **whole}:
        whole.setdefault("gauge_reading", before["gauge_reading"])
    return whole


def read_setup_facts(
    kind: str,
    jar: str | Path | None,
    note: str,
    *,
    places: Mapping[str, str] | None = None,
    usual: Mapping[str, str | None] | None = None,
) -> str:
    """What a setup is, as JSON text: its kind, the jar's file, places, usual source, a remark.

    Raises
    ------
    InputError
        If the kind is not known, or the file is refused.
    """
    if kind not in KINDS:
        raise InputError(
            f"`kind` {shorten(str(kind))!r} is not one of {', '.join(KINDS)}", parameter="kind"
        )
    facts: dict[str, object] = {}
    if jar is not None:
        if kind != "chamber":
            raise InputError(f"`jar` describes a chamber, not a {kind}", parameter="jar")
        facts["jar"] = _read_table(Path(jar))
    if places:
        if kind != "chamber":
            raise InputError(f"`places` are of a chamber, not of a {kind}", parameter="places")
        facts["places"] = read_places(places)
    said = check_facts(usual or {}, {name: DONE["chamber"][name] for name in USUAL})
    if said:
        if kind != "chamber":
            raise InputError(
                f"`usual` is of a chamber's source, not of a {kind}", parameter="usual"
            )
        check_source(said, {})
        facts["usual"] = said
    if note:
        _words(note, "`note`")
        facts["note"] = note
    return json.dumps(facts, ensure_ascii=False)


def _read_table(path: Path) -> dict[str, object]:
    """The table of a TOML file, of plain values alone."""
    from ..deposition.jar import as_jar
    from ..files.columns import read_text

    text = read_text(path, _LONGEST_FILE)
    try:
        table = tomllib.loads(text)
    except (ValueError, RecursionError) as error:
        raise InputError(f"{path.name} is not TOML: {error}", parameter="jar") from error
    try:
        as_jar(table)
    except InputError as error:
        raise InputError(f"{path.name}: {error}", parameter="jar") from error
    return table


def check_setup_facts(kind: str, facts: Mapping[str, object]) -> None:
    """Refuse what no recording can have made the facts of a setup.

    Raises
    ------
    InputError
        If one is of a wrong kind, or refused.
    """
    jar, places, usual, note = (facts.get(name) for name in _SETUP)
    if unknown := set(facts) - set(_SETUP):
        raise InputError(f"a setup has no {shorten(min(unknown))!r}; it has {', '.join(_SETUP)}")
    for name, value in (("jar", jar), ("places", places), ("usual", usual)):
        if value is not None and not (isinstance(value, Mapping) and kind == "chamber"):
            raise InputError(f"`{name}` of a {kind} is no table of names and values")
    if isinstance(jar, Mapping):
        from ..deposition.jar import as_jar

        as_jar(jar)
    for one in (places or {}).values():  # type: ignore[attr-defined]  # a mapping, as checked
        if not isinstance(one, Mapping):
            raise InputError("a place is a table of distance, offset and tilt")
        check_facts(one, {name: PIECE[name] for name in ("distance", "offset", "tilt")})
    check_facts(usual or {}, {name: DONE["chamber"][name] for name in USUAL})  # type: ignore[arg-type]
    if note is not None:
        check_words(note, "note")  # type: ignore[arg-type]  # which looks


def check_name(name: str, what: str) -> str:
    """A name without spaces around it, or a refusal."""
    if not isinstance(name, str) or not name.strip():
        raise InputError(f"`{what}` is a name, not {name!r:.80}", parameter=what)
    if len(name) > 100 or not name.isprintable():
        raise InputError(f"`{what}` is a name of at most 100 printable letters", parameter=what)
    return name.strip()


def check_words(text: str, what: str) -> None:
    """Refuse what is no text, or a very long one."""
    if not isinstance(text, str):
        raise InputError(f"`{what}` is a text, not {text!r:.80}", parameter=what)
    _words(text, f"`{what}`")
