"""What an answer rests on: its question, its optical data, and how sure it is, in words."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from functools import singledispatch

from ..assay.expectation import Expectation
from ..assay.hypotheses import data, list_hypotheses
from ..assay.verdict import Verdict
from ..design.design import Designs
from ..errors import UnknownNameError
from ..films.materials.catalogue import find_entry, spread_sets
from ..films.materials.effective_medium import Grade, Mixture
from ..films.materials.medium import Medium
from ..films.materials.nk_table import Material
from ..films.stack import Stack
from ..inference.hypotheses import FilmModel, list_film_models
from ..inference.uncertainty import Uncertainty
from ..oxidation.metals import find_metal
from ..run_sheet.run_sheet import RunSheet
from ..thickness_map.thickness_map import FieldMap
from ..tint.calibrate import Calibration
from ..tint.heat_strip import HeatStrip, PlateHold
from ..tint.recipes import Recipes
from ..tint.tint import Tint
from .old_paper import PaperTable

NINETY = (
    "Of answers like this one, nine in ten hold the truth within their 90 % interval, if the film "
    "and what it lies on are among those weighed. If they are not, the answer can be wrong by more "
    "than it says: a colour is compatible with a film, never proof of it."
)
COMPUTED = (
    "The optics is computed to the last digits; what is not known is whether your film has the "
    "index of the data set. A film with an index 3 % higher shows the colours of one about 3 % "
    "thicker."
)
GROWTH = (
    "The interval is that of the next piece: the law's own uncertainty, the kiln's and the scatter "
    "from heat to heat. Test pieces of your own, through 'oxhue coupons', narrow it."
)
_LEAST_SHARE = 0.01  # of a hypothesis whose data are worth naming

_DOUBTS = {
    "noise_de": ("scatter of the reading", "ΔE"),
    "discrepancy_de": ("what the model may miss", "ΔE"),
    "gain": ("exposure, ± of its logarithm", ""),
    "white_balance_de": ("white balance", "ΔE"),
    "glare": ("veil of glare, at most", "of the light"),
    "angle_low_deg": ("viewing angle, from", "°"),
    "angle_high_deg": ("viewing angle, to", "°"),
    "index_spread": ("index of the film, ±", "relative"),
}


@dataclass(frozen=True)
class Provenance:
    """What an answer rests on.

    Attributes
    ----------
    question : str
        What was asked, in the words of the bench.
    picture : str
        What its chart shows.
    data : tuple of str
        Labels of the optical data sets.
    sure : tuple of str
        How sure the answer is, a paragraph each.
    doubts : Table or None
        What was taken to be off about each reading.
    """

    question: str
    picture: str
    data: tuple[str, ...]
    sure: tuple[str, ...]
    doubts: PaperTable | None = None


@singledispatch
def provenance_of(result: object) -> Provenance:
    """What an answer rests on.

    Raises
    ------
    TypeError
        For what is no answer of ours.
    """
    raise TypeError(f"no grounds are known for {type(result).__name__}")


def source_table(labels: Iterable[str]) -> PaperTable:
    """The data sets of an answer with their sources, as far as they are shipped."""
    rows = []
    for label in dict.fromkeys(labels):
        try:
            entry = find_entry(label)
        except UnknownNameError:
            rows.append([label, "not among the shipped sets", "", ""])
            continue
        doi = f", doi:{entry.doi}" if entry.doi else ""
        rows.append([entry.label, f"{entry.source}{doi}", entry.confidence, entry.licence])
    return PaperTable(["data set", "from", "trust", "licence"], rows)


def uncertainty_table(readings: Sequence[tuple[str, str, Uncertainty]]) -> PaperTable:
    """What was taken to be off about readings, each as text, way of reading and doubts."""
    head = ["taken to be off, one standard deviation"]
    head += [f"{text} ({how})" for text, how, _ in readings]
    rows = [
        [words, *(f"{getattr(doubts, item.name):.3g} {unit}".strip() for _, _, doubts in readings)]
        for item in fields(Uncertainty)
        for words, unit in [_DOUBTS[item.name]]
    ]
    return PaperTable(head, rows)


def media_of(stack: Stack) -> list[str]:
    """Labels of all media of a stack, mixtures taken apart."""
    media = [layer.medium for layer in stack.all_layers] + [stack.substrate]
    return list(dict.fromkeys(label for medium in media for label in _parts(medium)))


def _parts(medium: Medium) -> list[str]:
    if isinstance(medium, Mixture | Grade):
        return _parts(medium.first) + _parts(medium.second)
    if isinstance(medium, Material) and medium.kind == "user":
        return [f"{medium.label}, a table of your own"]
    return [medium.label]


def _pairs(pairs: Iterable[FilmModel]) -> tuple[str, ...]:
    held = list(pairs)
    labels = [pair.film.label for pair in held] + [pair.substrate.label for pair in held]
    return tuple(dict.fromkeys(labels))


def _oxide_data(metal: str) -> tuple[str, ...]:
    held = find_metal(metal)
    return _pairs(list_film_models(held.films, held.on)) if held.colour else ()


@provenance_of.register
def _(field: FieldMap) -> Provenance:
    return Provenance(
        "How thick is it everywhere?",
        "Thickness in false colours, its histogram, and the line asked for.",
        _pairs(field.pairs),
        (NINETY, "The interval of a pixel holds for the order chosen, which is settled by "
                 "continuity over the piece; state a known place with --at where you have one."),
        uncertainty_table([("every pixel", "picture", field.doubts)]),
    )  # fmt: skip


@provenance_of.register
def _(tint: Tint) -> Provenance:
    return Provenance(
        "What comes of this heat?",
        "Where the thickness of pieces so treated comes out.",
        tint.optical_data,
        (GROWTH, f"Growth law, {tint.confidence}: {tint.source}."),
    )


@provenance_of.register
def _(found: Recipes) -> Provenance:
    return Provenance(
        "Which heat gives this colour?",
        "Typical colours over time and temperature.",
        _oxide_data(found.metal),
        ("The chance is that of a piece coming out in the colour wanted, with the law's own "
         "uncertainty, the kiln's and the scatter from heat to heat.",
         f"Growth law, {found.confidence}: {found.source}."),
    )  # fmt: skip


@provenance_of.register
def _(held: PlateHold) -> Provenance:
    question = "How is a plate held to run from colour to colour?"
    return Provenance(question, "", _oxide_data(held.metal), (GROWTH,))


@provenance_of.register
def _(strip: HeatStrip) -> Provenance:
    return Provenance(
        "Which colours does this metal take?",
        "Typical colours over time and temperature, with lines of equal oxide.",
        _oxide_data(strip.metal),
        ("Colours are those of the law's middle; a single piece scatters around it: "
         "'oxhue tint' with --at and --for says how far.",),
    )  # fmt: skip


@provenance_of.register
def _(learned: Calibration) -> Provenance:
    return Provenance(
        "What do our own heats say?",
        "Test pieces beside the fitted law, with the band that holds 90 % of such pieces.",
        _oxide_data(learned.metal),
        (GROWTH, "p is the share of simulated pieces at least as unusual; below 1 % the law does "
                 "not fit."),
    )  # fmt: skip


@provenance_of.register
def _(verdict: Verdict) -> Provenance:
    return Provenance(
        "Is it metal, oxide, or something else?",
        "What each would look like, likeliest first.",
        tuple(_hypotheses_provenance(verdict)),
        ("Probabilities are shares of simulated films of every kind that agree with what was "
         "noticed. What is not on the list is not weighed.",
         f"Share of simulated films whose observations are at least as unusual: "
         f"{100.0 * verdict.fit_p:.2g} %; below 1 % nothing fits."),
    )  # fmt: skip


def _hypotheses_provenance(verdict: Verdict) -> list[str]:
    held = [one for one in verdict.hypotheses if one.probability >= _LEAST_SHARE]
    metals = {m for one in held for m, share in one.metals.items() if share >= _LEAST_SHARE and m}
    families = {one.family for one in held}
    suspects = [one for one in list_hypotheses(sorted(metals)) if one.family in families]
    media = dict.fromkeys(name for one in suspects for name in (one.metal, one.medium) if name)
    shipped = [name for name in media if name not in data()["constructed"]]
    labels = [entry.label for name in shipped for entry, _ in spread_sets(name)]
    return labels + [f"{name}, set up for assays" for name in media if name not in shipped]


@provenance_of.register
def _(expectation: Expectation) -> Provenance:
    names = [name for name in (expectation.metal, expectation.oxide) if name]
    return Provenance(
        "What should a good film show?",
        "A good film, and the same with rising oxidation.",
        tuple(find_entry(name).label for name in names),
        (COMPUTED, "Ohms run from clean to dirty metal, 5 to 95 %."),
    )


@provenance_of.register
def _(found: Designs) -> Provenance:
    labels = [label for medium in found.palette for label in _parts(medium)]
    errors = f" with errors of {found.errors}" if found.errors is not None else ""
    return Provenance(
        "What to lay down?",
        "The best design: its spectrum with the goals, its colour as it is tilted, and the field "
        "inside it.",
        tuple(dict.fromkeys([*labels, *media_of(found.base)])),
        (COMPUTED, f"The yield is the share of simulated pieces that meet every goal{errors}; "
                   f"state your own spread with --tolerance."),
    )  # fmt: skip


@provenance_of.register
def _(sheet: RunSheet) -> Provenance:
    return Provenance(
        "How to lay it down?",
        "Thickness over the piece, and what the witness slide shows while the run goes on.",
        tuple(media_of(sheet.stack)),
        (COMPUTED, "Charge, heat and time are those of an ideal source with the tooling factor "
                   "given; whether metal stays metal is a probability, for sticking and reaction "
                   "are known roughly. Weigh a first run and correct with --tooling."),
    )  # fmt: skip
