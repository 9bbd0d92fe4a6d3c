"""What to do at the next run, ranked by what it is expected to change."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Any

from ..deposition.alloys import is_alloy
from ..deposition.gas_balance import GasBalance
from ..deposition.metal_run import MetalRun
from ..errors import InputError, UnknownNameError, shorten, suggest_nearest
from ..films.materials.catalogue import find_entry
from ..films.notation import parse_stack
from ..report.format import format_percent, format_scientific
from .changes import METAL_ENOUGH, change_run, lacks_figures

NO_SOURCE = "common practice, no source"
COMPUTED = "computed from the balance of gas"
_LEAST_TROUBLE = 0.15  # probability from which something is done about it
_LEAST_GAIN = 0.01
_LESS_OXYGEN = 0.15  # what a run without oxygen counts for where no change makes it metal yet
_UNCOMPUTED = 0.25  # what advice without figures counts for next to what is computed
MOST_TOLD = 5
"""Remedies that an answer for people tells."""
_MOST_TOGETHER = 5  # changes of one run that are told together


@dataclass(frozen=True)
class Remedy:
    """Something to do differently at the next run.

    Attributes
    ----------
    trouble : str
        What it is against.
    do, change : str
        What to do, and what that would change.
    gain : float
        What it is ranked by: probability of the trouble times the gain in the probability of metal,
        and a little for less oxygen, where that is computed; or how often it helps (a judgement).
    computed : bool
        Whether the change follows from the gas of the run that was stated.
    metal_before, metal_after : float or None
        Probability that the film stays metal, where it is computed.
    oxygen_before, oxygen_after : float or None
        Oxygen atoms per metal atom in the film, where they are computed.
    caution : str or None
        How it can hurt.
    source : str
    """

    trouble: str
    do: str
    change: str
    gain: float
    computed: bool
    metal_before: float | None
    metal_after: float | None
    oxygen_before: float | None
    oxygen_after: float | None
    caution: str | None
    source: str


def list_troubles() -> list[str]:
    """What can be asked about, by the names of the data file."""
    return list(_data()["trouble"])


def name_trouble(said: str) -> str:
    """The trouble that a word of the bench means, such as ``peels`` or ``comes off``.

    Raises
    ------
    UnknownNameError
        If it means none.
    """
    plain = said.strip().casefold()
    for name, row in _data()["trouble"].items():
        if plain == name or plain in row["words"]:
            return str(name)
    words = {word: name for name, row in _data()["trouble"].items() for word in row["words"]}
    offer = suggest_nearest(plain, list(words)) or f"use one of {', '.join(list_troubles())}"
    raise UnknownNameError(
        f"`trouble` {shorten(said)!r} is not one that is known; {offer}", parameter="trouble"
    )


def name_troubles(said: str | Sequence[str] | None) -> list[str]:
    """Troubles that words of the bench mean; none where nothing is said.

    Raises
    ------
    InputError
        If it is no text or several, or a word means none.
    """
    several = [] if said is None else [said] if isinstance(said, str) else said
    if not isinstance(several, Sequence) or not all(isinstance(one, str) for one in several):
        raise InputError(
            f"`trouble` must be a text such as 'peels', or several, not {said!r:.80}",
            parameter="trouble",
        )
    return [name_trouble(one) for one in several]


def find_remedies(
    troubles: Mapping[str, float] | Sequence[str] | str,
    *,
    metal: str = "",
    on: str = "",
    run: MetalRun | None = None,
    settle: Callable[[MetalRun], MetalRun | None] | None = None,
    most: int = 8,
) -> tuple[Remedy, ...]:
    """What to do at the next run, most promising first.

    Parameters
    ----------
    troubles : mapping, sequence or str
        Probability of each trouble by its name, or troubles in the words of the bench.
    metal, on : str
        What is deposited, and on what: advice that does not fit is left out.
    run : MetalRun, optional
        What was done. Then each change of it is computed, not quoted.
    settle : callable, optional
        What source and piece make of a changed run, None where they do not allow it; by default
        every change is told as it is.
    most : int

    Raises
    ------
    InputError
        If a trouble is not known.

    Examples
    --------
    >>> find_remedies("peels", metal="Ag", on="glass")[0].trouble
    'it comes off'
    """
    weighed = _weigh(troubles)
    found: list[Remedy] = []
    base = _base_of(on)
    for name, share in weighed.items():
        row = _data()["trouble"][name]
        advice = [one for one in row.get("advice", ()) if _fits(one, metal, base)]
        found += [_advise(row, one, share, metal, base) for one in advice]
        if run is None:
            found += [_quote(row, change, share) for change in row["changes"]]
        elif row["changes"] and not any(one.computed for one in found):
            found += _compute(row, run, share=_share_of_gas(weighed), settle=settle)
    unique = {one.do: one for one in sorted(found, key=lambda one: one.gain)}
    return tuple(sorted(unique.values(), key=lambda one: -one.gain)[:most])


def tell_remedies(told: Sequence[Remedy]) -> list[str]:
    """Each with what it changes: a figure where that is computed, else a reason."""
    said = []
    for one in told:
        words = f"{one.do}: {one.change}" if one.computed else f"{one.do} ({one.change})"
        said.append(
            _begin(words if one.trouble == told[0].trouble else f"if {one.trouble}: {words}")
        )
    return said


def list_cautions(told: Sequence[Remedy]) -> list[str]:
    """How remedies can hurt, each caution once."""
    return list(dict.fromkeys(f"{_begin(one.caution)}." for one in told if one.caution))


def _begin(sentence: str) -> str:
    return sentence[:1].upper() + sentence[1:]


_GAS = ("oxidised", "grey", "nitride")
"""Troubles that the same gas of the run makes."""


def _weigh(troubles: Mapping[str, float] | Sequence[str] | str) -> dict[str, float]:
    """Probability of each trouble that is worth doing something about, the greatest first."""
    if isinstance(troubles, str):
        troubles = [troubles]
    if not isinstance(troubles, Mapping):
        if not all(isinstance(one, str) for one in troubles):
            raise InputError("`trouble` must be a text or several", parameter="trouble")
        troubles = dict.fromkeys(troubles, 1.0)
    named: dict[str, float] = {}
    for said, share in troubles.items():
        name = name_trouble(said)
        named[name] = max(named.get(name, 0.0), share)
    kept = {name: share for name, share in named.items() if share >= _LEAST_TROUBLE}
    return dict(sorted(kept.items(), key=lambda item: -item[1]))


def _share_of_gas(weighed: Mapping[str, float]) -> float:
    """Probability of what the gas of the run makes."""
    return min(sum(weighed.get(one, 0.0) for one in _GAS), 1.0)


def _compute(
    row: Mapping[str, Any], run: MetalRun, *, share: float,
    settle: Callable[[MetalRun], MetalRun | None] | None,
) -> list[Remedy]:  # fmt: skip
    """What each change of the run makes of the metal, and several where none is enough."""
    before = run.balance

    def changed_run(one: MetalRun, name: str) -> MetalRun | None:
        other = change_run(one, name)
        return other if other is None or settle is None else settle(other)

    if before.states["metal"] >= METAL_ENOUGH:
        return [_elsewhere(row, before, share)]
    changed = {name: one for name in row["changes"] if (one := changed_run(run, name)) is not None}
    after = {name: one.balance for name, one in changed.items()}
    order = sorted(after, key=lambda name: (-after[name].states["metal"], _oxygen(after[name])))
    found = [_remedy(row, changed[name], [name], before, after[name], share) for name in order]
    if order and after[order[0]].states["metal"] < METAL_ENOUGH:
        taken, whole, then = order[:1], changed[order[0]], after[order[0]]
        for name in order[1:_MOST_TOGETHER]:
            if (more := changed_run(whole, name)) is not None and (
                then.states["metal"] < METAL_ENOUGH
            ):
                taken, whole, then = [*taken, name], more, more.balance
        if len(taken) > 1:
            found.append(_remedy(row, whole, taken, before, then, share))
    kept = [one for one in found if one.gain >= _LEAST_GAIN]
    unchanged = _tell_change(run.metal, before, before)
    kept = [one for one in kept if one.change != unchanged] or kept
    quoted = [name for name in row["changes"] if lacks_figures(run, name)]
    return kept + [_quote(row, name, _UNCOMPUTED * share) for name in quoted]


def _oxygen(balance: GasBalance) -> float:
    """Oxygen that the metal is offered and takes; where it is full, what it is offered decides."""
    return balance.offered_per_metal


def _tell_change(metal: str, before: GasBalance, after: GasBalance) -> str:
    """Oxygen in the film, and the chance that it stays metal, before and after."""
    oxygen = [tell_oxygen(one.oxygen_per_metal) for one in (before, after)]
    chance = [format_percent(one.states["metal"]) for one in (before, after)]
    return (
        f"oxygen per {_atom_name(metal)} {oxygen[0]} → {oxygen[1]}; "
        f"{chance[0]} → {chance[1]} likely to stay metal"
    )


def _remedy(
    row: Mapping[str, Any],
    run: MetalRun,
    names: Sequence[str],
    before: GasBalance,
    after: GasBalance,
    share: float,
) -> Remedy:
    """Changes, the run with them, and oxygen and probability of metal before and after."""
    changes = [_data()["change"][name] for name in names]
    was, will = before.states["metal"], after.states["metal"]
    less = 1.0 - _oxygen(after) / max(_oxygen(before), 1e-30)
    words = _tell_change(run.metal, before, after)
    cautions = dict.fromkeys(
        one["caution"]
        for one in changes
        if "caution" in one and not (one.get("hot_source") and run.target_cm2 is not None)
    )
    return Remedy(
        row["title"], _join([_say(one, run) for one in changes]), words,
        share * (max(will - was, 0.0) + _LESS_OXYGEN * max(less, 0.0)), True, was, will,
        before.oxygen_per_metal, after.oxygen_per_metal, "; ".join(cautions) or None, COMPUTED,
    )  # fmt: skip


def _join(several: Sequence[str]) -> str:
    return " and ".join([*([", ".join(several[:-1])] if several[:-1] else []), several[-1]])


def _say(change: Mapping[str, Any], run: MetalRun) -> str:
    """A change of a run in words, with the pressure that it comes to."""
    text = str(change.get("computed", change["do"]))
    return text.format(mbar=format_scientific(run.jar.base_mbar or 0.0, 1))


def _elsewhere(row: Mapping[str, Any], before: GasBalance, share: float) -> Remedy:
    """Where the gas of the run explains nothing."""
    was = before.states["metal"]
    return Remedy(
        row["title"],
        "look for gas that the figures of the run leave out: plastic near the source, a leak that "
        "opens when it gets warm, air let in while the piece was hot",
        f"by these figures the film stays metal ({format_percent(was)}), so the oxygen came from "
        f"elsewhere",
        0.5 * share, True, was, None, before.oxygen_per_metal, None, None, COMPUTED,
    )  # fmt: skip


def tell_oxygen(per_metal: float) -> str:
    """Oxygen atoms per metal atom as an answer tells them."""
    return f"{per_metal:.2g}" if per_metal >= 0.005 else "under 0.005"


def _quote(row: Mapping[str, Any], name: str, share: float) -> Remedy:
    """A change of the run where there is no run to compute with."""
    change = _data()["change"][name]
    return _plain(row, change["do"], change["expected"], share, change)


def _advise(
    row: Mapping[str, Any], advice: Mapping[str, Any], share: float, metal: str, base: str
) -> Remedy:
    limit = _data()["base"].get(base, {}).get("limit_C")
    words = {"metal": _plain_name(metal), "limit": "" if limit is None else f"{limit:.0f}"}
    do, change = (advice[key].format(**words) for key in ("do", "change"))
    return _plain(row, do, change, share, advice)


def _plain(
    row: Mapping[str, Any], do: str, change: str, share: float, facts: Mapping[str, Any]
) -> Remedy:
    return Remedy(
        row["title"], do, change, share * facts["weight"], False, None, None, None, None,
        facts.get("caution"), facts.get("source", NO_SOURCE),
    )  # fmt: skip


def _fits(advice: Mapping[str, Any], metal: str, base: str) -> bool:
    """Whether advice is for this metal and this base, which must bear its heat."""
    facts = _data()["base"].get(base, {})
    names = {base, facts.get("kind", "")}
    if metal and "metals" in advice and metal not in advice["metals"]:
        return False
    if "on" in advice and not names & set(advice["on"]):
        return False
    if names & set(advice.get("not_on", ())):
        return False
    return not facts.get("limit_C", 1e4) < advice.get("needs_C", 0.0)


def _base_of(on: str) -> str:
    """The name that the data file has for a base; ``metal`` for any, or nothing."""
    plain = on.strip().casefold()
    if not plain:
        return ""
    if any(word in plain.split() for word in ("ndfeb", "magnet", "nickel-plating")):
        return "NdFeB"
    last = plain.replace("teflon", "ptfe").split("/")[-1].split()
    known: dict[str, str] = {name.casefold(): name for name in _data()["base"]}
    for word in last:
        if word in known:
            return known[word]
    try:
        substrate = parse_stack(on).substrate
        entry = find_entry(substrate.label)
    except InputError:
        return ""
    return entry.name if entry.name in _data()["base"] else entry.kind.replace("alloy", "metal")


def _atom_name(metal: str) -> str:
    """What oxygen is counted by; an alloy has atoms of several kinds."""
    return "metal atom" if is_alloy(metal) else _plain_name(metal)


def _plain_name(metal: str) -> str:
    return find_entry(metal).formula_name.partition(",")[0] if metal else "the metal"


@cache
def _data() -> dict[str, Any]:
    return tomllib.loads(files(__package__).joinpath("remedies.toml").read_text("utf-8"))
