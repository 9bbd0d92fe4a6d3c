"""What to do at the next run: computed where the run is stated, ranked, and with cautions."""

import tomllib
from dataclasses import replace
from importlib.resources import files

import pytest

import oxhue.optics.remedies
from oxhue.optics.deposition.history import Flush
from oxhue.optics.deposition.jar import Jar, make_jar
from oxhue.optics.deposition.metal_run import MetalRun
from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError
from oxhue.optics.remedies.changes import METAL_ENOUGH, change_run
from oxhue.optics.remedies.remedies import (
    COMPUTED,
    find_remedies,
    list_troubles,
    name_trouble,
)

DATA = tomllib.loads(
    files(oxhue.optics.remedies).joinpath("remedies.toml").read_text(encoding="utf-8")
)
LEAKY = make_jar(volume="3l", pumping="2l/s", leak="1e-2mbar.l/s", plastic=True)
RESIDUAL = make_jar(
    volume="3l", pumping="2l/s", leak="2e-4mbar.l/s", base_pressure="5e-3mbar", residue="air"
)


def run_in(jar: Jar, **other) -> MetalRun:
    return MetalRun("Ti", 0.1, jar, **other)


def test_a_change_is_computed_from_the_balance_before_and_after_it():
    run = run_in(RESIDUAL, flush=Flush(1, 5.0))
    best = find_remedies({"oxidised": 0.7, "grey": 0.2}, metal="Ti", on="glass", run=run)[0]
    assert best.do == "flush with argon twice more"
    assert best.computed
    assert best.source == COMPUTED
    before = run.balance
    # Of what does not leak in, (5e-3 / 5)² is left; the leak holds 2e-4 / 2 mbar.
    base = 1e-4 + (5e-3 - 1e-4) * (5e-3 / 5.0) ** 2
    after = replace(run, jar=replace(RESIDUAL, base_mbar=base)).balance
    assert best.oxygen_before == pytest.approx(before.oxygen_per_metal)
    assert best.oxygen_after == pytest.approx(after.oxygen_per_metal)
    assert best.metal_before == pytest.approx(before.states["metal"])
    assert best.metal_after == pytest.approx(after.states["metal"])
    assert best.oxygen_after < best.oxygen_before
    assert "oxygen per titanium" in best.change


def test_a_change_that_changes_no_figure_is_not_advised():
    full = make_jar(base_pressure="2e-2mbar", residue="water")
    found = find_remedies("oxidised", metal="Ti", on="glass", run=MetalRun("Ti", 2.0, full))
    computed = [one for one in found if one.computed]
    assert any(one.metal_after > 0.9 for one in computed)
    for one in computed:
        oxygen, chance = one.change.split("; ")
        before, after = oxygen.removeprefix("oxygen per titanium ").split(" → ")
        assert before != after or not chance.startswith(" → ".join([chance.split(" → ")[0]] * 2))


def test_remedies_come_ranked_and_no_change_makes_it_worse():
    found = find_remedies("oxidised", metal="Ti", run=run_in(LEAKY, working_gas="Ar",
                                                             working_mbar=5e-3))  # fmt: skip
    assert [one.gain for one in found] == sorted((one.gain for one in found), reverse=True)
    computed = [one for one in found if one.computed]
    assert len(computed) >= 4
    assert all(one.metal_after >= one.metal_before - 1e-9 for one in computed)
    assert any("vinyl" in one.do for one in computed)


@pytest.mark.parametrize("change", list(DATA["change"]))
def test_every_change_of_the_data_file_lowers_the_oxygen_or_does_not_apply(change):
    applied = 0
    for jar in (LEAKY, RESIDUAL, make_jar(base_pressure="1e-4mbar")):
        run = run_in(jar)
        changed = change_run(run, change)
        if changed is None:
            continue
        applied += 1
        before, after = run.balance, changed.balance
        assert after.offered_per_metal <= before.offered_per_metal * (1.0 + 1e-9)
    assert applied > 0


def test_pumping_down_says_the_pressure_that_is_needed():
    run = run_in(make_jar(base_pressure="1e-4mbar"))
    lower = change_run(run, "pressure")
    assert lower.balance.states["metal"] >= METAL_ENOUGH
    ten_times = replace(lower, jar=replace(lower.jar, base_mbar=10.0 * lower.jar.base_mbar))
    assert ten_times.balance.states["metal"] < METAL_ENOUGH
    found = find_remedies("oxidised", metal="Ti", run=run)
    assert any(one.do.startswith("pump down to") and "mbar" in one.do for one in found)


def test_where_the_gas_explains_no_oxide_it_is_looked_for_elsewhere():
    run = MetalRun("Ti", 1.0, make_jar(base_pressure="1e-7mbar"))
    assert run.balance.states["metal"] > 0.99
    found = find_remedies("oxidised", metal="Ti", run=run)
    assert "leave out" in found[0].do
    assert not any("three times as fast" in one.do for one in found)


def test_gold_is_never_told_to_take_up_less_oxygen():
    run = MetalRun("Au", 0.1, make_jar(base_pressure="1e-2mbar", residue="air"))
    assert run.balance.states["metal"] > 0.9


def test_without_a_run_the_changes_are_told_without_figures():
    found = find_remedies("golden", metal="Ti", on="glass")
    assert not any(one.computed for one in found)
    assert any("leak" in one.do for one in found)


@pytest.mark.parametrize(
    ("on", "said", "unsaid"),
    [
        ("NdFeB", "keep the magnet below 80 °C", "heat the piece to 150 °C"),
        ("PLA", "keep the plastic below 50 °C", "heat the piece to 150 °C"),
        ("Teflon", "roughen Teflon", "keep the magnet"),
        ("glass 1mm", "heat the piece to 150 °C", "keep the plastic"),
        ("steel", "take off the oxide", "keep the plastic"),
    ],
)
def test_advice_on_adhesion_fits_the_base_and_the_heat_it_bears(on, said, unsaid):
    words = " ".join(one.do for one in find_remedies("peels", metal="Ag", on=on, most=20))
    assert said in words
    assert unsaid not in words
    assert "titanium or chromium" in words  # an adhesion layer under silver
    assert "titanium or chromium and go on" not in " ".join(
        one.do for one in find_remedies("peels", metal="Ti", on=on, most=20)
    )


def test_what_can_hurt_carries_a_caution():
    dangers = ("glow discharge", "isopropanol", "pickle", "titanium first", "in argon", "hot glass")
    for trouble in list_troubles():
        for one in find_remedies(trouble, most=50):
            if any(word in one.do for word in dangers):
                assert one.caution, one.do


def test_every_trouble_has_a_remedy_with_a_source():
    for trouble in list_troubles():
        found = find_remedies(trouble, most=50)
        assert found, trouble
        assert all(one.source and one.do and one.change for one in found)
        assert all(0.0 < one.gain <= 1.0 for one in found)
        assert all("{" not in one.do for one in found)


def test_words_of_the_bench_mean_one_trouble_each():
    assert name_trouble("Comes off") == "peels"
    words = [word for row in DATA["trouble"].values() for word in row["words"]]
    assert len(words) == len(set(words))
    with pytest.raises(UnknownNameError, match="`trouble` 'sad'"):
        name_trouble("sad")
    with pytest.raises(InputError, match="`trouble`"):
        find_remedies([3])


def test_a_run_that_says_nothing_is_refused():
    with pytest.raises(InputError, match="how C takes gas is not known"):
        MetalRun("C", 0.1, LEAKY)
    with pytest.raises(OutOfRangeError, match="`rate`"):
        MetalRun("Ti", 0.0, LEAKY)
    with pytest.raises(OutOfRangeError, match="`distance`"):
        MetalRun("Ti", 0.1, LEAKY, distance_cm=0.1)
