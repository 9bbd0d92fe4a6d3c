"""What went wrong with a film, from the verdict on it and from what was noticed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from .observations import CategoryObservation, Observation

_FAMILIES = {
    "oxide": "oxidised", "part oxidised": "grey", "oxide skin": "skin", "nitride": "nitride",
    "carbon": "amber", "islands": "thin", "black metal": "black", "rough base": "black",
    "cracked metal": "cracked", "loose film": "peels",
}  # fmt: skip
"""The trouble that each family of films is; metal, lacquer and bare base are none."""

_NOTICED = {
    ("wipe", "off"): "peels", ("finish", "dull"): "dull", ("finish", "satin"): "dull",
    ("finish", "sooty"): "black", ("finish", "rainbow"): "rainbow", ("black", "black"): "black",
}  # fmt: skip
_SHARE = 0.7  # of a trouble that was noticed: the rest of the verdict may explain it


def find_troubles(
    shares: Mapping[str, float],
    observations: Sequence[Observation],
    said: Sequence[str] = (),
    *,
    carbon_wanted: bool = False,
) -> dict[str, float]:
    """Probability of each trouble.

    Parameters
    ----------
    shares : mapping
        Probability of each family of films.
    observations : sequence of Observation
    said : sequence of str
        Troubles named outright.
    carbon_wanted : bool
        Whether a film of carbon was the aim.
    """
    found: dict[str, float] = {}
    for family, share in shares.items():
        trouble = _FAMILIES.get(family)
        if trouble is not None and not (carbon_wanted and trouble == "amber"):
            found[trouble] = found.get(trouble, 0.0) + share
    for one in observations:
        if isinstance(one, CategoryObservation) and (one.what, one.found) in _NOTICED:
            trouble = _NOTICED[one.what, one.found]
            found[trouble] = max(found.get(trouble, 0.0), _SHARE)
    return found | dict.fromkeys(said, 1.0)
