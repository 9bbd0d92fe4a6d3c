"""``oxhue tint``: what oxide and colour after this heat, or which heat gives this colour?"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from .options import (
    LOGGED,
    PHOTO,
    PLACE,
    Angle,
    AsJson,
    Bare,
    Chart,
    File,
    Light,
    LogFile,
    Observer,
    OfSetup,
    Report,
    Seed,
    Text,
    White,
    answer,
    check_log_options,
    complete_metals,
    open_log,
    option,
    parse_viewing,
    read_known,
    refuse_unused,
    say_planned,
)

if TYPE_CHECKING:
    from collections.abc import Mapping

    from ..optics.colour.conditions import ViewingConditions
    from ..optics.inference.reading import Reading
    from ..optics.oxidation.schedule import HeatSchedule
    from ..optics.result import Result
    from ..optics.tint.bath import Bath
    from ..optics.tint.kiln import Kiln
    from ..optics.tint.result import Recipes
    from .reporting import ReportTo

PANEL = "What does it look like?", 2

HEAT, WANT = "What is done to it", "Which heat gives a colour"
_AMBIENT_C = 20.0
_PLATE_PLACES = 11


@dataclass(frozen=True)
class _Plan:
    """What is kept in the log: a heat for a metal, in a kiln of the log."""

    metal: str
    want: str | None
    heat: tuple[str | None, str | None]
    setup: str
    log_file: Path | None

    def keep(self, found: Result, as_json: bool) -> None:
        """Record the heat that was asked for, or the first recipe."""
        from ..optics.errors import InputError
        from ..optics.tint.result import Recipes

        at, time = self.heat
        if isinstance(found, Recipes) and found.by == "hold" and found.recipes:
            first = found.recipes[0]
            at, time = f"{first.temperature_C:g}C", f"{60.0 * (first.time_min or 0.0):g}s"
        steady = not isinstance(found, Recipes) or found.by == "hold"
        if at is None or time is None or ".." in at or not steady:
            raise InputError("--record keeps a steady heat or the first of recipes; there is none")
        with open_log(self.log_file, write=True) as book:
            planned = self.want or f"{self.metal}, {at} for {time}"
            made = book.plan(self.setup, planned, metal=self.metal, at=at, time=time)
        say_planned(made, as_json)


@dataclass(frozen=True)
class _TintOptions:
    """What every question shares: whose kiln, how it is looked at, how the answer leaves."""

    context: typer.Context
    kiln: Kiln | None
    bath: Bath | None
    viewing: ViewingConditions
    seed: int
    chart: Path | None
    report: ReportTo | None
    as_json: bool
    plan: _Plan | None = None
    parts: int | None = None
    tolerance_de: float | None = None

    @property
    def seen(self) -> dict[str, Any]:
        """How the pieces are looked at, and how many are to be alike."""
        return {"conditions": self.viewing, "parts": self.parts, "seed": self.seed}

    @property
    def wished(self) -> dict[str, Any]:
        """The same for a colour wanted, with its tolerance where one is stated."""
        stated = {} if self.tolerance_de is None else {"tolerance_de": self.tolerance_de}
        return self.seen | stated

    def answer(self, found: Result, trusted: bool = True) -> None:
        """Keep what was planned, and let an answer leave in the form asked for."""
        if self.plan is not None:
            self.plan.keep(found, self.as_json)
        answer(found, self.as_json, self.chart, self.report, trusted=trusted)


def tint(
    context: typer.Context,
    metal: Annotated[
        str,
        typer.Argument(
            metavar="METAL",
            help="Ti, steel, stainless, Cu, Si ...",
            autocompletion=complete_metals,
        ),
    ],
    at: Annotated[
        Text,
        option(
            "--at", "TEMPERATURE", "Temperature, as in 450C; 250..450C along a plate.", panel=HEAT
        ),
    ] = None,
    for_: Annotated[
        Text, option("--for", "TIME", "How long it is held, as in 20min.", panel=HEAT)
    ] = None,
    passing: Annotated[
        Text,
        option("--pass", "TIME", "In place of --for: a flame passes in 20s.", panel=HEAT),
    ] = None,
    passes: Annotated[
        int | None, option("--passes", "N", "With --pass: how often the flame passes.", panel=HEAT)
    ] = None,
    profile: Annotated[
        File,
        option("--profile", "FILE", "In place of both: the log of a thermocouple.", panel=HEAT),
    ] = None,
    columns: Annotated[
        Text,
        option(
            "--columns",
            "NAMES",
            "With --profile: names of its columns, as 'time_min, "
            "temperature_C', where it has none.",
            panel=HEAT,
        ),
    ] = None,
    volts: Annotated[
        Text,
        option(
            "--volts", "VOLTS", "Anodised to 25V, with no heat; 20..90V for a chart.", panel=HEAT
        ),
    ] = None,
    want: Annotated[
        Text,
        option(
            "--want",
            "COLOUR",
            "Recipes for this word, #hex or L,a,b: heats, or passes of a flame "
            "with --pass, or changes of the heat in --profile.",
            panel=WANT,
        ),
    ] = None,
    tolerance: Annotated[
        float | None,
        option("--tolerance", "DE", "ΔE from a colour in numbers that counts; 10.", panel=WANT),
    ] = None,
    photo: Annotated[
        File,
        option("--photo", "FILE", "In place of --want: a photo of a sample to meet.", panel=PHOTO),
    ] = None,
    patch: Annotated[
        Text, option("--patch", PLACE, "Where the sample is on it.", panel=PHOTO)
    ] = None,
    white: White = None,
    bare: Bare = None,
    weld: Annotated[
        Text,
        option("--weld", "COLOUR", "Keep or remove a weld's tint of this colour? Of stainless."),
    ] = None,
    parts: Annotated[
        int | None, option("--parts", "N", "How many parts are treated alike: how alike are they?")
    ] = None,
    anodise: Annotated[
        bool,
        option(
            "--anodise", None, "Volts in place of heats; alone: the chart of volts.", panel=WANT
        ),
    ] = False,
    along: Annotated[
        Text,
        option(
            "--along", "LENGTH", "Length of a plate; --want 'straw to blue' over it.", panel=WANT
        ),
    ] = None,
    film: Annotated[
        Text, option("--film", "THICKNESS", "The metal is a film this thick, as in 80nm.")
    ] = None,
    coupons: Annotated[
        File, option("--coupons", "FILE", "A kiln or a bath saved by 'oxhue coupons --save'.")
    ] = None,
    setup: OfSetup = None,
    record: Annotated[
        bool, option("--record", None, "Keep the heat as a plan of --setup.", panel=LOGGED)
    ] = False,
    log_file: LogFile = None,
    angle: Angle = "0",
    light: Light = "D65",
    observer: Observer = 2,
    seed: Seed = 1,
    chart: Chart = None,
    report: Report = None,
    as_json: AsJson = False,
) -> None:
    """Oxide, thickness and colour after a heat; or heats for a colour; or all colours of a metal.

    Example: oxhue tint Ti --at 450C --for 20min
    """
    # long: options read one after the other, each refused where it does not belong
    from ..optics.errors import InputError
    from ..optics.units import parse_quantity

    if coupons is not None and setup is not None:
        raise InputError("give --coupons FILE or --setup NAME, not both: each is a kiln")
    check_log_options(context, setup=setup, record=record)
    kiln, bath = _read_learned(coupons, anodise or volts is not None)
    kiln = read_known(setup, "tint", log_file, metal=metal).get("kiln", kiln)
    viewing = parse_viewing(light, observer)
    sample = _read_sample(metal, want, photo, {"patch": patch, "white": white, "bare": bare})
    wanted = want if sample is None else sample
    plan = _Plan(metal, want, (at, for_), setup or "", log_file) if record else None
    asked = _TintOptions(
        context, kiln, bath, viewing, seed, chart, report, as_json, plan, parts, tolerance
    )
    along_mm = None if along is None else parse_quantity(along, "length_nm", "--along") / 1e6
    if along_mm is not None and along_mm <= 0.0:
        raise InputError("--along must be longer than nothing, such as 100mm")
    if volts is not None and (at or for_ or profile or passing or wanted):
        raise InputError("--volts stands alone: leave out heats and --want")
    if weld is not None:
        _judge_weld(context, metal, weld, asked)
        return
    if passes is not None and passing is None and not (wanted and at and not for_):
        raise InputError("--passes goes with --pass, the time of one pass, or with --at and --want")
    if passes is not None and passes < 1:
        raise InputError(f"--passes is {passes}; a flame passes once or more")
    if columns is not None and profile is None:
        raise InputError("--columns goes with --profile FILE, the log of a thermocouple")
    if tolerance is not None and wanted is None:
        raise InputError("--tolerance goes with --want or --photo, the colour to meet")
    if wanted is not None:
        if film is not None:
            raise InputError("--want goes without --film")
        refuse_unused(context, "--want gives recipes for a colour seen straight on", "angle")
        heating = _Heating(at, for_, passing, passes, profile, columns)
        _find_recipes(metal, wanted, heating, anodise, along_mm, asked)
        return
    if anodise:
        if at or for_ or profile or passing or volts:
            raise InputError("--anodise goes without heats; to say the volts use --volts 25V")
        refuse_unused(
            context, "a chart of volts is seen straight on", "angle", "film", "parts", "along"
        )
        _chart_volts(metal, None, asked)
        return
    if along is not None and (at is None or ".." not in at):
        raise InputError("--along goes with --want, or with both ends of a plate: --at 250..450C")
    if volts is None and not (at or for_ or profile or passing):
        refuse_unused(
            context, "without a heat all colours of the metal are shown", "angle", "film", "parts"
        )
        _overview(metal, asked)
        return
    heating = _Heating(at, for_, passing, passes, profile, columns)
    _tint_or_anodise(metal, heating, volts, film, along_mm, angle, asked)


def _tint_or_anodise(
    metal: str,
    heating: _Heating,
    volts: str | None,
    film: str | None,
    along_mm: float | None,
    angle: str,
    asked: _TintOptions,
) -> None:
    import numpy as np

    from ..optics.tint.tint import anodise, tint
    from ..optics.units import parse_quantity, parse_range

    if volts is not None and ".." in volts:
        refuse_unused(
            asked.context, "a chart of volts is seen straight on", "angle", "film", "parts"
        )
        _chart_volts(metal, parse_range(volts, "voltage_V", "--volts"), asked)
        return
    seen = asked.seen | {
        "angle_deg": parse_quantity(angle, "angle_deg", "--angle"),
        "film_nm": None if film is None else parse_quantity(film, "length_nm", "--film"),
    }
    if volts is not None:
        asked.answer(anodise(metal, volts, bath=asked.bath, **seen))
        return
    heat, ends = _read_heat(heating)
    plate = None if ends is None else np.linspace(*ends, _PLATE_PLACES)
    asked.answer(tint(metal, heat, kiln=asked.kiln, plate_C=plate, along_mm=along_mm, **seen))


@dataclass(frozen=True)
class _Heating:
    """What was said of the heat: temperature and time, or a flame, or a log."""

    at: str | None
    for_: str | None
    passing: str | None
    passes: int | None
    profile: Path | None
    columns: str | None


def _read_heat(asked: _Heating) -> tuple[HeatSchedule, tuple[float, float] | None]:
    """The heat asked for, and the temperatures of both ends where it is a gradient."""
    from ..optics.errors import InputError
    from ..optics.oxidation.log_file import read_log
    from ..optics.oxidation.schedule import hold, pass_spot
    from ..optics.units import parse_quantity, parse_range

    at, for_, passing = asked.at, asked.for_, asked.passing
    if asked.profile is not None:
        if at or for_ or passing:
            raise InputError("give --profile, or --at with --for, not both")
        return read_log(asked.profile, asked.columns), None
    if at is None or (for_ is None) == (passing is None):
        raise InputError("a heat needs --at 450C and one of --for 20min and --pass 20s")
    ends = parse_range(at, "temperature_C", "--at") if ".." in at else None
    peak_C = ends[1] if ends else parse_quantity(at, "temperature_C", "--at")
    if passing is not None:
        time_s = parse_quantity(passing, "time_s", "--pass")
        return pass_spot(peak_C, _AMBIENT_C, time_s, passes=asked.passes or 1), ends
    return hold(peak_C, parse_quantity(for_ or "", "time_s", "--for")), ends


def _read_sample(
    metal: str, want: str | None, photo: Path | None, places: Mapping[str, str | None]
) -> Reading | None:
    """The colour of a customer's sample on a photo, if there is one."""
    from ..optics.errors import InputError

    given = {name: place for name, place in places.items() if place}
    if photo is None:
        if given:
            raise InputError("--patch, --white and --bare are places on a photo: add --photo FILE")
        return None
    if want is not None:
        raise InputError("give --want COLOUR or the --photo of a sample, not both")
    if "patch" not in given:
        raise InputError("--photo needs --patch x,y,w,h: where the sample is on it")
    from ..optics.gauge.photo import reading_from_photo
    from ..optics.images.patches import parse_patch
    from ..optics.oxidation.metals import find_metal

    marked = {name: parse_patch(place) for name, place in given.items()}
    return reading_from_photo(
        photo, marked["patch"], find_metal(metal).on, white=marked.get("white"),
        bare=marked.get("bare"), angle="0",
    )  # fmt: skip


def _judge_weld(context: typer.Context, metal: str, seen: str, asked: _TintOptions) -> None:
    from ..optics.tint.weld import weld_tint

    refuse_unused(
        context, "--weld asks about a colour", "at", "for_", "passing", "passes", "profile",
        "volts", "want", "photo", "anodise", "along", "film", "coupons", "setup", "record", "parts",
        "tolerance", "angle", "light", "observer", "seed", "chart",
    )  # fmt: skip
    asked.answer(weld_tint(metal, seen))


def _find_recipes(
    metal: str,
    want: str | Reading,
    heating: _Heating,
    anodise: bool,
    along_mm: float | None,
    asked: _TintOptions,
) -> None:
    from ..optics.errors import InputError
    from ..optics.tint.recipes import anodic_recipes, recipes
    from ..optics.units import parse_quantity

    at, for_ = heating.at, heating.for_
    flamed = heating.passing is not None or heating.passes is not None
    if along_mm is not None:
        refuse_unused(asked.context, "--along asks for a plate", "at", "anodise", "parts",
                      "tolerance", "passing", "passes", "profile", "photo")  # fmt: skip
        _hold_plate(metal, str(want), for_, along_mm, asked)
        return
    if anodise:
        if at or for_ or asked.chart or flamed or heating.profile:
            raise InputError("--anodise takes no heat and no --chart")
        found = anodic_recipes(metal, want, bath=asked.bath, **asked.wished)
    elif heating.profile is not None or flamed:
        found = _change_heat(metal, want, heating, asked)
    else:
        found = recipes(
            metal,
            want,
            times=() if for_ is None else parse_quantity(for_, "time_s", "--for"),
            temperatures=() if at is None else parse_quantity(at, "temperature_C", "--at"),
            kiln=asked.kiln,
            **asked.wished,
        )
    asked.answer(found, trusted=bool(found.recipes))


def _change_heat(
    metal: str, want: str | Reading, heating: _Heating, asked: _TintOptions
) -> Recipes:
    """Recipes for passes of a flame, or for a ramp of one's own."""
    from ..optics.errors import InputError
    from ..optics.oxidation.log_file import read_log
    from ..optics.tint.flame_recipes import flame_recipes, ramp_recipes
    from ..optics.units import parse_quantity

    at, for_, passing = heating.at, heating.for_, heating.passing
    if asked.chart is not None:
        raise InputError("there is a chart of steady heats alone; leave out --chart")
    if heating.profile is not None:
        if at or for_ or passing or heating.passes:
            raise InputError("--want with --profile changes that heat: leave out --at and --for")
        ramp = read_log(heating.profile, heating.columns)
        return ramp_recipes(metal, want, ramp=ramp, kiln=asked.kiln, **asked.wished)
    if for_:
        raise InputError("give --for TIME or --pass TIME, not both")
    return flame_recipes(
        metal,
        want,
        passing=() if passing is None else parse_quantity(passing, "time_s", "--pass"),
        temperatures=() if at is None else parse_quantity(at, "temperature_C", "--at"),
        passes=heating.passes,
        kiln=asked.kiln,
        **asked.wished,
    )


def _hold_plate(
    metal: str,
    want: str,
    for_: str | None,
    along_mm: float,
    asked: _TintOptions,
) -> None:
    from ..optics.errors import InputError
    from ..optics.tint.heat_strip import plate_hold
    from ..optics.units import parse_quantity

    first, joint, last = want.partition(" to ")
    if not joint or for_ is None:
        raise InputError("--along needs --want 'straw to blue' and --for 20min")
    if asked.chart is not None:
        raise InputError("there is no chart of a plate; leave out --chart")
    held = plate_hold(
        metal,
        first.strip(),
        last.strip(),
        time=parse_quantity(for_, "time_s", "--for"),
        kiln=asked.kiln,
        conditions=asked.viewing,
        along_mm=along_mm,
        seed=asked.seed,
    )
    asked.answer(held)


def _chart_volts(metal: str, between_V: tuple[float, float] | None, asked: _TintOptions) -> None:
    from ..optics.tint.volt_chart import volt_chart

    asked.answer(
        volt_chart(metal, between_V, bath=asked.bath, conditions=asked.viewing, seed=asked.seed)
    )


def _read_learned(file: Path | None, of_volts: bool) -> tuple[Kiln | None, Bath | None]:
    """The kiln or the bath of a saved file, whichever the question is about."""
    if file is None:
        return None, None
    from ..optics.errors import InputError
    from ..optics.files.columns import read_text
    from ..optics.tint.bath import is_bath, parse_bath
    from ..optics.tint.kiln import parse_kiln

    text = read_text(file)
    if is_bath(text) != of_volts:
        held, other = ("a bath", "--volts or --anodise") if is_bath(text) else ("a kiln", "heats")
        raise InputError(f"{file.name} is of {held}: it goes with {other}")
    return (None, parse_bath(text, file.name)) if of_volts else (parse_kiln(text, file.name), None)


def _overview(metal: str, asked: _TintOptions) -> None:
    from ..optics.tint.heat_strip import heat_strip

    asked.answer(heat_strip(metal, kiln=asked.kiln, conditions=asked.viewing, seed=asked.seed))
