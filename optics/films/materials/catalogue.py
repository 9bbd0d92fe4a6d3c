"""The shipped optical constants by name: ``TiO2``, ``TiO2(anatase)``, ``Ti(johnson1974)``."""

from __future__ import annotations

import csv
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from importlib import resources
from importlib.resources.abc import Traversable
from typing import ClassVar

from .... import nk_data
from ...errors import InputError, TableError, UnknownNameError, shorten, suggest_nearest
from ...result import Hidden
from .nk_table import STANDS_FOR, Material, parse_span, parse_table
from .stand_ins import StandIn, find_stand_in, mixture_of, stand_in_aliases

VISIBLE_NM = (380.0, 780.0)
"""The span a colour needs; CIE 15 allows it in place of 360 to 830 nm."""

_KIND_WORDS = {"plastic": "polymer", "plastics": "polymer", "polymer": "polymer", "alloy": "alloy"}
_NAME = re.compile(r"\s*([^()]+?)\s*(?:\(\s*([^()]+?)\s*\)\s*)?")


@dataclass(frozen=True)
class MaterialEntry:
    """One line of the index: a data set, what may be done with it, and handbook numbers.

    Attributes
    ----------
    name, phase, variant, file : str
        The phase is empty where a material has only one.
    default, phase_default : bool
        Whether ``name`` alone, or ``name(phase)``, means this data set.
    kind : str
        metal, alloy, oxide, nitride, carbide, carbon, semiconductor, fluoride, sulfide, glass,
        polymer, liquid or gas.
    group : str
        Data sets of one name and phase that share a group are not independent.
    spread : bool
        Whether the set may stand for the doubt about this name and phase.
    confidence : str
        high, medium, low, theory or doubtful.
    density_g_cm3, molar_mass_g_mol, resistivity_uohm_cm, melting_C : float or None
        Handbook values of the material, not of the sample measured.
    formula_name : str
        Plain English.
    aliases : tuple of str
        Other names of this name and phase.
    source, doi, licence : str
        Provenance; ``doi`` may be ``None``.
    database_pages : tuple of str
        Where it stands in the open database (``shelf/book/page``), or nowhere; a set averaged over
        directions has a page for each.
    range_nm, measured_range_nm : tuple of float
        Span that can be asked for, and span published [nm].
    extension : str or None
        How the table goes past the published span, if it does.
    """

    also: ClassVar[tuple[str, ...]] = ("database_page",)

    name: str
    phase: str
    variant: str
    file: Hidden[str]
    default: bool
    phase_default: Hidden[bool]
    kind: str
    group: Hidden[str]
    spread: Hidden[bool]
    confidence: str
    density_g_cm3: Hidden[float | None]
    molar_mass_g_mol: Hidden[float | None]
    resistivity_uohm_cm: Hidden[float | None]
    melting_C: Hidden[float | None]
    formula_name: str
    aliases: Hidden[tuple[str, ...]]
    source: str
    doi: str | None
    database_pages: tuple[str, ...]
    range_nm: tuple[float, float]
    measured_range_nm: tuple[float, float]
    extension: str | None
    licence: str

    @property
    def label(self) -> str:
        """Name and data set, as :func:`load_material` takes it."""
        return f"{self.name}({self.variant})"

    @property
    def database_page(self) -> str | None:
        """The first of its pages in the open database."""
        return self.database_pages[0] if self.database_pages else None

    @property
    def covers_visible(self) -> bool:
        """Whether a colour can be computed from it."""
        low, high = self.range_nm
        return low <= VISIBLE_NM[0] and high >= VISIBLE_NM[1]


def load_material(name: str) -> Material:
    """Optical constants of a shipped material.

    Parameters
    ----------
    name : str
        A name or alias (``TiO2``, ``glass``), with the phase (``TiO2(anatase)``) or the data set
        (``Ti(johnson1974)``) in brackets where the default is not meant. Upper and lower case
        matter only where two names differ by nothing else.

    Returns
    -------
    Material

    Raises
    ------
    UnknownNameError
        If nothing shipped has that name; the message offers what has.

    Examples
    --------
    >>> load_material("Ti").label
    'Ti(johnson1974)'
    >>> load_material("TiO2(rutile)").nk(550.0).round(3)
    np.complex128(2.753+0j)
    """
    file, other = find_entry(name).file, optical_stand_in(name)
    return load_file(file) if other is None else _load_in_place(file, other)


@cache
def _load_in_place(file: str, other: StandIn) -> Material:
    """A data set that stands for another material, with what to expect of it."""
    plain = load_file(file)
    used = next(entry.formula_name for entry in _index() if entry.file == file)
    said = f"{other.name} is taken as {used.partition(',')[0]}: {other.expect}"
    return replace(plain, header={**plain.header, STANDS_FOR: said})


def optical_stand_in(name: str) -> StandIn | None:
    """What stands for a material that has no optical data of its own; None where it has, or where
    nothing does."""
    written = _NAME.fullmatch(name)
    plain = name.strip() if written is None else written[1]
    if _same_names(plain):
        return None
    found = find_stand_in(plain)
    return found if found is not None and found.on else None


def find_entry(name: str) -> MaterialEntry:
    """The index line that :func:`load_material` would read; the same errors."""
    entries, argument = _candidates(name)
    if argument is None:
        return next(entry for entry in entries if entry.phase_default)
    chosen = _match(argument, entries, lambda entry: entry.phase)
    if chosen:
        return next(entry for entry in chosen if entry.phase_default)
    family = _family(entries[0].name)
    chosen = _match(argument, family, lambda entry: entry.variant)
    if not chosen:
        raise UnknownNameError(_unknown_set(argument, family))
    return chosen[0]


def list_materials(name: str | None = None) -> tuple[MaterialEntry, ...]:
    """All data sets, or those of one material (``TiO2``) or one phase (``TiO2(anatase)``).

    Raises
    ------
    UnknownNameError
        If nothing shipped has that name.
    """
    if name is None:
        return _index()
    entries, argument = _candidates(name)
    if argument is None and name.strip().casefold() == entries[0].name.casefold():
        return _family(entries[0].name)
    if argument is None:
        return entries
    chosen = _match(argument, entries, lambda entry: entry.phase)
    return chosen or (find_entry(name),)


def spread_sets(name: str) -> tuple[tuple[MaterialEntry, float], ...]:
    """The published sets that stand for the doubt about a material, with weights.

    Parameters
    ----------
    name : str
        As for :func:`load_material`. A data set named outright stands alone.

    Returns
    -------
    tuple of (MaterialEntry, float)
        Weights [-] sum to 1: equal for every independent group, shared equally within one.
        The default comes first. Where no set may count, the default alone.
    """
    entry = find_entry(name)
    _, argument = _candidates(name)
    if argument is not None and argument.casefold() == entry.variant.casefold():
        return ((entry, 1.0),)
    same = [other for other in _family(entry.name) if other.phase == entry.phase]
    counted = [other for other in same if other.spread] or [entry]
    groups = [other.group for other in counted]
    share = 1.0 / len(set(groups))
    weighted = [(other, share / groups.count(other.group)) for other in counted]
    return tuple(sorted(weighted, key=lambda pair: not pair[0].phase_default))


@cache
def load_file(file: str) -> Material:
    """The data set in one file of the index, read once."""
    with _shipped(file).open(encoding="utf-8") as stream:
        return parse_table(stream, file)


def _shipped(file: str) -> Traversable:
    return resources.files(nk_data).joinpath(*file.split("/"))


@cache
def _index() -> tuple[MaterialEntry, ...]:
    with _shipped("index.csv").open(encoding="utf-8") as stream:
        return tuple(_entry(row) for row in csv.DictReader(stream))


def _entry(row: dict[str, str]) -> MaterialEntry:
    def number(key: str) -> float | None:
        return float(row[key]) if row[key] else None

    def stated(key: str) -> str | None:
        return None if row[key] == "none" else row[key]

    try:
        return MaterialEntry(
            row["name"], row["phase"], row["variant"], row["file"], row["default"] == "yes",
            row["phase_default"] == "yes", row["kind"], row["group"], row["spread"] == "yes",
            row["confidence"], number("density_g_cm3"), number("molar_mass_g_mol"),
            number("resistivity_uohm_cm"), number("melting_C"), row["formula_name"],
            tuple(filter(None, row["aliases"].split(";"))), row["source"], stated("doi"),
            tuple(filter(None, (stated("database_page") or "").split("; "))),
            parse_span(row["range_nm"], "index.csv"),
            parse_span(row["measured_range_nm"], "index.csv"), stated("extension"),
            row["licence"],
        )  # fmt: skip
    except (KeyError, ValueError) as error:
        raise TableError(f"index.csv, {row.get('file')}: {error}") from error


@cache
def _names() -> dict[str, tuple[str, str]]:
    """Every name and alias with the (name, phase) it means."""
    known = {entry.name: (entry.name, entry.phase) for entry in _index() if entry.default}
    for entry in _index():
        known.update(dict.fromkeys(entry.aliases, (entry.name, entry.phase)))
    return known


@cache
def _phase_aliases() -> dict[str, tuple[str, str]]:
    """Other names of phases, as ``C(diamond-like)`` for ``C(dlc)``, in lower case."""
    return {name.casefold(): meant for name, meant in _names().items() if name.endswith(")")}


def _kinds_offer(plain: str) -> str | None:
    """For a word that covers a whole kind of material, what there is of it."""
    kind = _KIND_WORDS.get(plain.casefold())
    if kind is None:
        return None
    found = {one.name: one for one in _index() if one.kind == kind and one.default}
    names = [f"{name} ({one.aliases[0]})" if one.aliases else name for name, one in found.items()]
    return f"name which one: {', '.join(names)}"


def _mixture_offer(plain: str) -> str:
    """For a loose material, how to write it."""
    mixed = mixture_of(plain)
    return f"its grains have air between them: write it as a mixture, {mixed!r}" if mixed else ""


def _same_names(plain: str) -> list[str]:
    """The names and aliases that are a text, but for capital letters."""
    known = _names()
    return [plain] if plain in known else [k for k in known if k.casefold() == plain.casefold()]


def _family(name: str) -> tuple[MaterialEntry, ...]:
    return tuple(entry for entry in _index() if entry.name == name)


@lru_cache(maxsize=256)
def _candidates(name: str) -> tuple[tuple[MaterialEntry, ...], str | None]:
    """Entries a text may mean, and the text in brackets: all phases if a phase is to follow."""
    written = _NAME.fullmatch(name)
    if written is None:
        raise UnknownNameError(
            f"material {shorten(name)!r} is not written as NAME, NAME(phase) or NAME(data set)"
        )
    plain, argument = written[1], written[2]
    known = _names()
    if argument is not None and (whole := f"{plain}({argument})".casefold()) in _phase_aliases():
        base, phase = _phase_aliases()[whole]
        return tuple(entry for entry in _family(base) if entry.phase == phase), None
    same = _same_names(plain)
    if len(same) > 1:
        raise UnknownNameError(f"{plain!r:.80} may mean {' or '.join(same)}; write one of these")
    other = None if argument else optical_stand_in(plain)
    if other is not None:
        return _candidates(other.on)
    if not same:
        offer = (
            _kinds_offer(plain)
            or _mixture_offer(plain)
            or suggest_nearest(plain, [*known, *stand_in_aliases()])
            or "`list_materials` lists them all"
        )
        raise UnknownNameError(f"unknown material {shorten(plain)!r}; {offer}")
    base, phase = known[same[0]]
    family = _family(base)
    if argument is not None and same[0] == base:
        return family, argument
    return tuple(entry for entry in family if entry.phase == phase), argument


def _match(
    text: str, entries: Iterable[MaterialEntry], key: Callable[[MaterialEntry], str]
) -> tuple[MaterialEntry, ...]:
    """Entries whose key is the text exactly, else in another case."""
    entries = tuple(entries)
    exact = tuple(entry for entry in entries if key(entry) == text)
    return exact or tuple(e for e in entries if key(e).casefold() == text.casefold())


def _unknown_set(argument: str, family: tuple[MaterialEntry, ...]) -> str:
    phases = list(dict.fromkeys(entry.phase for entry in family if entry.phase))
    sets = ", ".join(entry.variant for entry in family)
    offer = f"phases {', '.join(phases)} and " if phases else ""
    name = family[0].name
    return f"unknown data set {shorten(argument)!r} of {name}; it has {offer}data sets {sets}"


def as_materials(materials: str | Sequence[str], parameter: str = "materials") -> tuple[str, ...]:
    """Names of materials from what a caller gave: a text with commas, or a sequence of names.

    Raises
    ------
    InputError
        If it is neither, or a name is empty.
    """
    names = materials.split(",") if isinstance(materials, str) else materials
    if not isinstance(names, Sequence) or not all(isinstance(name, str) for name in names):
        raise InputError(
            f"`{parameter}` is a text such as 'TiO2,SiO2' or a list of names, "
            f"not {materials!r:.80}",
            parameter=parameter,
        )
    stripped = tuple(name.strip() for name in names)
    if not all(stripped):
        raise InputError(
            f"`{parameter}` {materials!r:.80} holds an empty name; separate names by single commas",
            parameter=parameter,
        )
    return stripped
