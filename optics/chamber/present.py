"""The gas of a chamber as a document."""

from __future__ import annotations

from ..deposition.gas_balance import GasBalance
from ..deposition.gases import GASES, gas_name
from ..report.document import Block, Document, Figure, Items, Line, Note, Table, present
from ..report.format import format_percent, format_scientific
from ..units import format_digits, format_duration, parse_quantity
from .plots import chart_pressures
from .result import ChamberState

_SURE = 0.8
_SCCM = parse_quantity("1sccm", "leak_mbar_l_s", "a flow")
_OUTCOMES = (
    "stays metal", "more likely metal", "likely grey", "more likely oxide", "turns to oxide",
    "likely a golden nitride that conducts",
)  # fmt: skip
_TRACE = 1e-12  # mbar, of what is listed
_MODEL = (
    "One pressure everywhere in the chamber, steady while the metal grows. Sticking on titanium is "
    "from a review (from memory), on other metals judged from it; outgassing of walls that were "
    "not measured is in doubt by a factor of 3. Doubts are drawn and go into the chances."
)
_TELLS = {
    "base pressure": "What comes in follows from the base pressure and the pumping speed.",
    "usual": "Nobody measured the leak: a usual one is taken. Shut the valve and read the pressure "
    "twice, and give it as `rise`.",
}


@present.register
def document(state: ChamberState) -> Document:
    """What is in there, what it makes of metals, and what limits it."""
    return Document(
        headline=f"{_gas_words(state)}. {_metal_words(state)}.",
        blocks=[
            *_conflicts(state),
            Table(*_metal_table(state), optional=["N per atom", "90 %"]),
            *_branch_words(state),
            *_alloy_words(state),
            _inflow_words(state),
            _supply_words(state),
            *_pump_words(state),
            *_gauge_words(state),
            *_flush_words(state),
            Table(*_gas_table(state)),
            Note(_MODEL),
        ],
        question="What gas is in my jar, and what does it make of a metal?",
        figures=[Figure(lambda: chart_pressures(state), "Pressure of each gas over time.")],
        confidence=(_MODEL,),
    )


def _mbar(value: float) -> str:
    return f"{value:.3g} mbar" if 0.00995 < value < 1000.0 else f"{format_scientific(value)} mbar"


def _gas_words(state: ChamberState) -> str:
    air, water = state.air_mbar, state.partial_mbar["H2O"]
    rest = f"{_mbar(air)} of air and {_mbar(water)} of water"
    if state.working_gas in ("Ar", "N2"):
        gas = gas_name(state.working_gas).capitalize()
        pressure = state.partial_mbar[state.working_gas]
        if state.working_share < 0.5:
            return f"More gas comes in than the working pressure allows: {rest}"
        if state.working_gas == "N2":
            oxygen = state.partial_mbar["O2"]
            return f"{gas} at {_mbar(pressure)}, with {_mbar(oxygen)} of oxygen in it"
        return f"{gas} at {_mbar(pressure)}, with {rest} in it"
    return f"The pump holds {_mbar(sum(state.partial_mbar.values()))}: {rest}"


def _metal_words(state: ChamberState) -> str:
    """Metals by what they become."""
    groups: dict[str, list[str]] = {}
    for film in state.films:
        groups.setdefault(_become(film), []).append(film.flow.name)
    parts = [f"{words}: {', '.join(groups[words])}" for words in _OUTCOMES if words in groups]
    return f"Grown at {state.rate_nm_s:g} nm/s, {'; '.join(parts)}"


def _become(film: GasBalance) -> str:
    stays, doubtful, grey, leans, oxide, golden = _OUTCOMES
    if film.nitride > 0.5:
        return golden
    if film.states["oxide"] >= _SURE:
        return oxide
    if film.states["metal"] >= _SURE:
        return stays
    return {"metal": doubtful, "grey": grey, "oxide": leans}[film.verdict]


def _metal_table(state: ChamberState) -> tuple[list[str], list[list[Line]]]:
    head = ["", "O per atom", "90 %", "N per atom", "metal", "grey", "oxide", "golden nitride"]
    rows: list[list[Line]] = []
    for film in state.films:
        low, high = film.oxygen_interval90
        rows.append([
            film.flow.name,
            _atoms(film.oxygen_per_metal),
            f"{_atoms(low)}–{_atoms(high)}" if high > 0.0 else "",
            _atoms(film.nitrogen_per_metal) if film.nitrogen_per_metal else "",
            *(format_percent(film.states[name]) for name in ("metal", "grey", "oxide")),
            format_percent(film.nitride) if film.nitride else "",
        ])  # fmt: skip
    return head, rows


def _atoms(ratio: float) -> str:
    return "0" if ratio < 5e-5 else f"{ratio:.2g}"


def _gas_table(state: ChamberState) -> tuple[list[str], list[list[Line]]]:
    film = state.films[0]
    rows: list[list[Line]] = [
        [gas_name(gas), _mbar_or_none(state.held_partial_mbar[gas]),
         _mbar_or_none(state.partial_mbar[gas]), _mbar_or_none(film.partial_mbar[gas])]
        for gas in GASES
        if max(state.partial_mbar[gas], state.held_partial_mbar[gas]) > _TRACE
    ]  # fmt: skip
    head = ["mbar of", "pump alone", "before metal", f"while {film.flow.name} grows"]
    return head, rows


def _mbar_or_none(value: float) -> str:
    return format_scientific(value) if value > _TRACE else "none"


def _inflow_words(state: ChamberState) -> str:
    flow, molecules = state.inflow, format_scientific(state.inflow.molecules_per_s)
    total = format_scientific(flow.total_mbar_l_s)
    comes = f"{total} mbar·l/s come in, {molecules} molecules a second"
    if flow.known_from in _TELLS:
        return f"{comes}. {_TELLS[flow.known_from]}"
    if flow.known_from == "stated":
        return f"{comes}: the leak, and what the walls give off."
    if flow.outgassing_mbar_l_s is None:
        return (
            f"{comes}: leak and outgassing together, which two readings cannot separate; it is "
            f"taken as a leak. A third reading tells: a leak rises in a straight line, outgassing "
            f"bends over."
        )
    assert flow.leak_mbar_l_s is not None  # a rise test gives it
    return (
        f"{comes}: a leak of {format_scientific(flow.leak_mbar_l_s)}, and "
        f"{format_scientific(flow.outgassing_mbar_l_s)} off the walls, which dies away."
    )


def _supply_words(state: ChamberState) -> str:
    """What limits the oxygen in a film: what comes in, or what reaches the piece."""
    film = state.films[0]
    taken = 1.0 - film.partial_mbar["O2"] / max(film.alone_mbar["O2"], 1e-30)
    atoms = format_scientific(film.flow.atoms_per_s)
    source = f"The source sends {atoms} atoms of {film.flow.name} a second"
    if taken > 0.5:
        return (
            f"{source}. On the walls they take up gas as fast as it comes in: what counts is how "
            f"much comes in, not the pressure before."
        )
    return f"{source}, too few to take up the gas: what counts is its pressure."


def _pump_words(state: ChamberState) -> list[Block]:
    pump = state.jar.pump
    assert pump is not None  # checked at the door
    speed = state.pumping_l_s["N2"]
    if pump.tube is not None and speed < 0.5 * pump.speed_l_s:
        return [
            f"Of the pump's {pump.speed_l_s:g} l/s the tube lets {format_digits(speed)} l/s reach "
            f"the chamber: a tube twice as wide passes eight to sixteen times as much."
        ]
    return [f"The chamber is pumped with {format_digits(speed)} l/s."]


def _gauge_words(state: ChamberState) -> list[Block]:
    true, reading = state.working_pressure_mbar, state.reading_mbar
    if true is None or reading is None:
        return []
    words = []
    if abs(true / reading - 1.0) > 0.02:
        words.append(
            f"Where the {state.jar.gauge} gauge shows {_mbar(reading)}, {_mbar(true)} are there."
        )
    if state.feed_mbar_l_s and state.working_share >= 0.5:
        feed, sccm = format_scientific(state.feed_mbar_l_s), state.feed_mbar_l_s / _SCCM
        words.append(f"To hold it, let in {feed} mbar·l/s ({format_digits(sccm)} sccm).")
    return [" ".join(words)] if words else []


def _flush_words(state: ChamberState) -> list[Block]:
    flush = state.flush
    if flush is None:
        return []
    left = format_scientific(flush.share_left)
    return [
        f"{flush.puffs} puffs from {_mbar(flush.low_mbar)} to {_mbar(flush.high_mbar)} leave "
        f"{left} of the air that was there. The leak brings its own back within "
        f"{format_duration(flush.back_after_s)}; water on the walls is hardly moved: time and mild "
        f"heat do that."
    ]


def _branch_words(state: ChamberState) -> list[Block]:
    lines: list[Line] = []
    for film in state.films:
        if len(film.branches) == 2:
            clean, poisoned = film.branches
            lines.append(
                f"{film.flow.name} has two steady states. A clean target gives "
                f"{_atoms(clean.oxygen_per_metal)} oxygen an atom; one that oxidised before, in "
                f"air or in too much gas, gives {_atoms(poisoned.oxygen_per_metal)}, at "
                f"{format_percent(poisoned.rate_share)} of the rate. Sputter it clean behind the "
                f"shutter first."
            )
    return [Items(lines)] if lines else []


def _alloy_words(state: ChamberState) -> list[Block]:
    """By which part an alloy is weighed."""
    lines: list[Line] = [
        f"{film.flow.alloy} is taken to hold gas as {film.flow.metal} does, the part of it that "
        f"oxidises first"
        for film in state.films
        if film.flow.alloy not in ("", film.flow.metal)
    ]
    return [Items(lines)] if lines else []


def _conflicts(state: ChamberState) -> list[Block]:
    """What was told that cannot be true together."""
    words: list[Line] = []
    working, alone = state.working_pressure_mbar, state.held_mbar
    if working is not None and alone > working:
        words.append(
            f"What comes in holds {_mbar(alone)} against this pump by itself, more than the "
            f"working pressure of {_mbar(working)}: until metal grows and takes it, no working gas "
            f"can be added at that. Pump faster, find the leak, or work at a higher pressure."
        )
    rise = state.jar.rise
    if rise is not None and state.held_mbar > 1.5 * rise.pressure_mbar[0] > 0.0:
        needed = state.inflow.total_mbar_l_s / rise.pressure_mbar[0]
        words.append(
            f"The rise test begins at {_mbar(rise.pressure_mbar[0])}. To hold that against what "
            f"comes in takes {format_digits(needed)} l/s at the chamber; pump and tube as given "
            f"come to {format_digits(state.pumping_l_s['N2'])} l/s. Check tube, pump and the first "
            f"reading."
        )
    return [Items(words)] if words else []
