"""What an answer rests on, in words that every question shares."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import fields

from ..errors import UnknownNameError
from ..films.materials.catalogue import find_entry
from ..films.materials.effective_medium import Grade, Mixture
from ..films.materials.medium import Medium
from ..films.materials.nk_table import Material
from ..films.stack import Stack
from ..inference.hypotheses import FilmModel
from ..inference.uncertainty import Uncertainty
from .document import Table

NINETY = (
    "Of answers like this one, nine in ten hold the truth within their 90 % interval, if the film "
    "and its substrate are among those weighed. If they are not, the answer can be wrong by more "
    "than it says: a colour is compatible with a film, never proof of it."
)
COMPUTED = (
    "The optics is computed to the last digits; what is not known is whether your film has the "
    "index of the data set. A film with an index 3 % higher shows the colours of one about 3 % "
    "thicker."
)
GROWTH = (
    "The interval is that of the next piece: the law's own uncertainty, the kiln's and the scatter "
    "from heat to heat. Test pieces of your own narrow it."
)

_UNCERTAINTY = {
    "noise_de": ("scatter of the reading", "ΔE"),
    "discrepancy_de": ("what the model may miss", "ΔE"),
    "gain": ("exposure, ± of its logarithm", ""),
    "white_balance_de": ("white balance", "ΔE"),
    "glare": ("veil of glare, at most", "of the light"),
    "angle_low_deg": ("viewing angle, from", "°"),
    "angle_high_deg": ("viewing angle, to", "°"),
    "index_spread": ("index of the film, ±", "relative"),
    "lamp_lift": ("dim looks lifted against a lamp, up to", "times"),
    "tone": ("contrast a camera may add, at most", "relative"),
    "lamp": ("light of another kind, at most", "of the light"),
}


def cite_sources(labels: Iterable[str]) -> list[str]:
    """The data sets of an answer, each with its source, its trust and its licence."""
    lines = []
    for label in dict.fromkeys(labels):
        try:
            entry = find_entry(label)
        except UnknownNameError:
            lines.append(f"{label}: not among the shipped sets")
            continue
        doi = f", doi:{entry.doi}" if entry.doi else ""
        lines.append(
            f"{entry.label}: {entry.source}{doi} (trust {entry.confidence}, {entry.licence})"
        )
    return lines


def uncertainty_table(readings: Sequence[tuple[str, str, Uncertainty]]) -> Table:
    """What was taken to be off about readings, each as text, way of reading and uncertainty."""
    head = ["taken to be off, one standard deviation"]
    head += [f"{text} ({how})" for text, how, _ in readings]
    rows = [
        [words, *(f"{getattr(one, item.name):.3g} {unit}".strip() for _, _, one in readings)]
        for item in fields(Uncertainty)
        if item.name != "lamp_lift" or any(one.lamp_lift != 1.0 for _, _, one in readings)
        for words, unit in [_UNCERTAINTY[item.name]]
    ]
    return Table(head, rows)


def labels_of_pairs(pairs: Iterable[FilmModel]) -> tuple[str, ...]:
    """The optical data of films and substrates, films first."""
    held = list(pairs)
    labels = [pair.film.label for pair in held] + [pair.substrate.label for pair in held]
    return tuple(dict.fromkeys(labels))


def labels_of_stack(stack: Stack) -> tuple[str, ...]:
    """The optical data of all media of a stack, mixtures taken apart."""
    media = [layer.medium for layer in stack.all_layers] + [stack.substrate]
    return tuple(dict.fromkeys(label for medium in media for label in labels_of_medium(medium)))


def labels_of_medium(medium: Medium) -> list[str]:
    """The optical data of a medium, a mixture taken apart."""
    if isinstance(medium, Mixture | Grade):
        return labels_of_medium(medium.first) + labels_of_medium(medium.second)
    if isinstance(medium, Material) and medium.kind == "user":
        return [f"{medium.label}, a table of your own"]
    return [medium.label]
