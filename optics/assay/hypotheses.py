"""What a film may turn out to be: the suspects, how likely each is beforehand, and their ground."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib.resources import files
from typing import Any

import numpy as np

from ..deposition.alloys import alloy_parts
from ..errors import InputError, UnknownNameError, suggest_nearest
from ..films.engine.thickness_scan import Base, base_of
from ..films.materials.catalogue import find_entry, optical_stand_in
from ..films.materials.effective_medium import Mixture
from ..films.materials.nk_table import Material
from ..films.materials.stand_ins import metal_in_place_of, mixture_of
from ..films.notation import parse_medium, parse_stack
from ..films.stack import Stack

WAVELENGTH_NM = np.arange(380.0, 781.0, 20.0)
"""Grid of the simulated films; films of some hundred nanometres need no finer one."""

CONDUCTORS = ("metal", "alloy", "nitride", "carbide", "semiconductor")
CARBON = "C"


@dataclass(frozen=True)
class FilmHypothesis:
    """One thing the film may be.

    Attributes
    ----------
    family, variant : str
        A key of the hypotheses in the data file, such as ``oxide``, and which of several kinds,
        such as ``anatase``.
    metal, medium : str
        The metal that was deposited, and the compound in our notation; empty where there is none.
    prior : float
        Probability before anything is seen; all suspects of a question sum to 1.
    films : int
        How many films are simulated.
    """

    family: str
    variant: str
    metal: str
    medium: str
    prior: float
    films: int


@dataclass(frozen=True, eq=False)
class Substrate:
    """What the film lies on, as given in ``text``.

    Attributes
    ----------
    clear, conducts : bool
        Whether one can look through it and from behind; whether it would short a meter.
    kind : str
        Of the medium right under the film, such as ``polymer``.
    finish : str
        ``smooth``, ``satin`` or ``rough`` where it was stated; empty where it was not.
    sigma_nm, body, bounces : tuple of float
        Ranges of its roughness [nm]; of the share of light inside it that it throws back [-], 0 for
        clear and metal; and of how often light meets it before it leaves.
    """

    text: str
    base: Base
    clear: bool
    conducts: bool
    kind: str
    finish: str = ""
    sigma_nm: tuple[float, float] = (0.0, 0.0)
    body: tuple[float, float] = (0.0, 0.0)
    bounces: tuple[float, float] = (1.0, 1.0)


def facts(family: str) -> dict[str, Any]:
    """The data of one family of hypotheses."""
    found: dict[str, Any] = data()["hypothesis"][family]
    return found


def handling_of(suspect: FilmHypothesis) -> dict[str, Any]:
    """The data of a suspect's handling: of its family, or of the one it is like."""
    row = data()["carbon"].get(suspect.variant, {}) if suspect.family == "carbon" else {}
    return facts(row.get("like", suspect.family))


def families() -> list[str]:
    """All families, in the order of the data file."""
    return list(data()["hypothesis"])


def list_metals() -> list[str]:
    """Metals whose films can be assayed."""
    return [*data()["metal"], CARBON]


def check_metal(name: str) -> str:
    """A metal by its name or an alias, as the data file writes it.

    An alloy or a mixture of which nothing is known goes by what stands for it: the metal that takes
    its place where metals are tinted, or the larger of its parts.

    Raises
    ------
    UnknownNameError
        If films of it cannot be assayed.
    """
    known = list_metals()
    plain = name.strip()
    try:
        found = find_entry(plain).name
    except UnknownNameError:
        found = plain
    if found not in known:
        found = _find_main_part(found)
    if found not in known:
        offer = suggest_nearest(plain, known) or f"it is for {', '.join(known)}, or unknown"
        raise UnknownNameError(f"films of {plain!r:.80} cannot be assayed; {offer}")
    return found


def describe_stand_in(name: str, known: str) -> tuple[str, ...]:
    """What to say where the films of a metal are weighed as those of another."""
    try:
        same = find_entry(name.strip()).name == known and optical_stand_in(name) is None
    except UnknownNameError:
        same = False
    if same:
        return ()
    return (
        f"films of {name.strip()} are weighed as those of {plain_name(known)}: where its other "
        f"parts tell, colours differ a little, and a mixture conducts worse than either part",
    )


def _find_main_part(name: str) -> str:
    """What stands for an alloy or a mixture, or the name itself."""
    name = mixture_of(name) or name
    stands = metal_in_place_of(name)
    if stands in list_metals():
        return stands
    parts = alloy_parts(stands or name)
    largest = max(parts, key=lambda part: parts[part])
    if largest != name or ":" not in name:
        return largest
    try:
        mixed = parse_medium(name)
    except InputError:
        return name
    if not isinstance(mixed, Mixture):
        return name
    of_first = mixed.fraction_second <= 0.5 or mixed.second.kind == "gas"
    part = mixed.first if of_first else mixed.second
    return part.name if isinstance(part, Material) else name


def statement_of(family: str) -> str:
    """The statement of the verdict that a family is told under: its own, or a common one."""
    return str(facts(family).get("stated", family))


def statement_facts(name: str) -> dict[str, Any]:
    """Title and words of a statement."""
    found: dict[str, Any] = data()["statement"].get(name) or facts(name)
    return found


def list_hypotheses(
    metals: Sequence[str], ground: Substrate | None = None
) -> tuple[FilmHypothesis, ...]:
    """Everything a film may be when one of these metals was deposited.

    Parameters
    ----------
    metals : sequence of str
        One metal, or none: then the common ones, weighed as in the data file.
    ground : Substrate, optional
        Some things are likelier on some bases; smooth glass by default.
    """
    known, nothing = data()["metal"], facts("nothing")
    bare = FilmHypothesis("nothing", "", "", "", nothing["prior"], nothing["films"])
    if list(metals) == [CARBON]:
        found = [*_carbon_hypotheses("", 0.85), replace(bare, prior=0.15)]
    else:
        shares = {metal: 1.0 / len(metals) for metal in metals} or {
            name: row["unknown"] for name, row in known.items() if "unknown" in row
        }
        crowd = 1.0 if len(shares) == 1 else 1.6 / len(shares)
        carbide = "Ti" if "Ti" in metals else ""
        found = [
            one
            for metal in shares
            for one in _metal_hypotheses(metal, shares[metal], crowd, ground)
        ]
        found += [*_carbon_hypotheses(carbide, facts("carbon")["prior"]), bare]
    whole = sum(one.prior for one in found)
    return tuple(replace(one, prior=one.prior / whole) for one in found)


def prepare_substrate(on: str, finish: str | None = None) -> Substrate:
    """What the film lies on, ready to be computed with.

    Parameters
    ----------
    on : str
        ``glass``, ``glass 1mm``, ``rough glass``, ``PET``, ``steel``, ``stone``, or layers and a
        substrate in our notation. A clear substrate without a thickness is given a usual one.
    finish : str, optional
        ``smooth``, ``satin`` or ``rough``, where it is not said before the name.

    Raises
    ------
    InputError
        If it is not understood, or swept.
    """
    said, plain = _split_finish(on)
    if finish is not None and finish not in data()["base_finish"]:
        offer = suggest_nearest(finish, list(data()["base_finish"])) or "use smooth, satin or rough"
        raise InputError(
            f"`base_finish` cannot be {finish!r:.40}; {offer}", parameter="base_finish"
        )
    finish = finish or said
    named = data()["base"].get(plain.casefold(), {})
    stack = base_stack(on)
    media = [layer.medium for layer in stack.all_layers] + [stack.substrate]
    conducts = any(medium.kind in CONDUCTORS for medium in media)
    rough = {**named, **(data()["base_finish"][finish] if finish else {})}
    return Substrate(
        on.strip(), base_of(stack, WAVELENGTH_NM), stack.slab_nm is not None, conducts,
        media[0].kind, finish,
        **{key: tuple(rough[key]) for key in ("sigma_nm", "body", "bounces") if key in rough},
    )  # fmt: skip


def base_stack(on: str) -> Stack:
    """What a film lies on as a stack; a clear substrate is a slab, of a usual thickness if unsaid.

    Raises
    ------
    InputError
        If it is not understood.
    """
    _, plain = _split_finish(on)
    named = data()["base"].get(plain.casefold())
    stack = parse_stack(named["medium"] if named else plain)
    if named or stack.slab_nm is not None or stack.is_opaque(WAVELENGTH_NM):
        return stack
    usual = data()["slab_nm"]
    return replace(stack, slab_nm=usual.get(stack.substrate.kind, usual["other"]))


def _split_finish(on: str) -> tuple[str, str]:
    """A finish said before the base, as in ``rough glass``, and the base by itself."""
    first, _, rest = on.strip().partition(" ")
    for name, row in data()["base_finish"].items():
        if rest and first.casefold() in row["words"]:
            return name, rest.strip()
    return "", on.strip()


def oxides_of(metal: str) -> dict[str, dict[str, Any]]:
    """Variants of a metal's oxide with their medium and weight; none for noble and unknown ones."""
    found: dict[str, dict[str, Any]] = data()["metal"].get(metal, {"oxide": {}})["oxide"]
    return found


def main_oxide(metal: str) -> str:
    """The likeliest oxide of a metal in our notation, or nothing."""
    variants = oxides_of(metal).values()
    return max(variants, key=lambda one: one["weight"])["medium"] if variants else ""


def expansion(metal: str, oxide: str) -> tuple[float, float]:
    """How much thicker a film grows as it oxidises, and oxygen atoms per metal atom of the oxide.

    Returns
    -------
    ratio, oxygen : float
        Volume of oxide per volume of the metal in it [-], from densities and molar masses; and
        oxygen atoms per metal atom.
    """
    one, other = find_entry(reacts_as(metal)), find_entry(oxide)
    counts = {name: int(n or 1) for name, n in re.findall(r"([A-Z][a-z]?)(\d*)", other.name)}
    oxygen = counts.pop("O")
    atoms = sum(counts.values())
    if not (one.density_g_cm3 and one.molar_mass_g_mol and other.molar_mass_g_mol):
        raise InputError(f"the density of {metal} or {oxide} is not known")
    density = other.density_g_cm3 or find_entry(other.name).density_g_cm3 or one.density_g_cm3
    # (M_oxide / ρ_oxide) / (x M_metal / ρ_metal)
    ratio = other.molar_mass_g_mol * one.density_g_cm3 / (one.molar_mass_g_mol * density * atoms)
    return ratio, oxygen / atoms


def reacts_as(metal: str) -> str:
    """The element that a metal reacts as: of an alloy its most reactive common part."""
    return str(data()["metal"].get(metal, {}).get("reacts_as", metal))


def _metal_hypotheses(
    metal: str, share: float, crowd: float, ground: Substrate | None
) -> list[FilmHypothesis]:
    row, oxides = data()["metal"][metal], oxides_of(metal)
    always = ["metal", "thin metal", "islands", "black metal", "loose film", "lacquer"]
    always.append("cracked metal")
    if ground is None or not (ground.finish or ground.sigma_nm[1] > 0.0):
        always.append("rough base")
    plain = [(name, "", "", 1.0) for name in always]
    if oxides:
        likeliest = main_oxide(metal)
        plain += [("oxide skin", "", likeliest, 1.0), ("part oxidised", "", likeliest, 1.0)]
        reduced = facts("oxide")["suboxide_share"] if row.get("suboxide") else 0.0
        plain += [
            ("oxide", name, one["medium"], one["weight"] * (1.0 - reduced))
            for name, one in oxides.items()
        ]
        if reduced:
            plain.append(("oxide", "sub-oxide", likeliest, reduced))
    if row.get("nitride"):
        plain.append(("nitride", "", row["nitride"], 1.0))
    kind = ground.kind if ground else ""
    priors = [
        facts(family)["prior"] * facts(family).get("on", {}).get(kind, 1.0) * part
        for family, _, _, part in plain
    ]
    whole = sum(priors)
    left = 1.0 - facts("carbon")["prior"] - facts("nothing")["prior"]
    return [
        FilmHypothesis(
            family, variant, metal, medium, left * share * prior / whole,
            max(200, int(facts(family)["films"] * crowd)),
        )
        for (family, variant, medium, _), prior in zip(plain, priors, strict=True)
    ]  # fmt: skip


def _carbon_hypotheses(carbide_metal: str, prior: float) -> list[FilmHypothesis]:
    kinds = {name: (row["medium"], row["weight"]) for name, row in data()["carbon"].items()}
    if carbide_metal:
        carbide = data()["metal"][carbide_metal]["carbide"]
        kinds[f"{carbide} carbide"] = (carbide, 0.15)
    whole = sum(weight for _, weight in kinds.values())
    return [
        FilmHypothesis("carbon", name, "", medium, prior * weight / whole, facts("carbon")["films"])
        for name, (medium, weight) in kinds.items()
    ]


def plain_name(medium: str) -> str:
    """What a medium is in plain English: ``titanium`` for Ti."""
    if medium in data()["constructed"]:
        return medium.partition("(")[0]
    parsed = parse_medium(medium)
    if not isinstance(parsed, Material):
        return medium
    return find_entry(medium).formula_name.partition(",")[0]


@cache
def data() -> dict[str, Any]:
    """The data file."""
    text = files(__package__).joinpath("hypotheses.toml").read_text("utf-8")
    return tomllib.loads(text)
