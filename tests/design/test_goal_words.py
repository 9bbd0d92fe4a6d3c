"""Goals as people write them, and presets in plain words."""

import pytest

from oxhue.optics.design.data_reach import reach_goals, span_of
from oxhue.optics.design.design import design
from oxhue.optics.design.goal_reader import as_goals, parse_goal
from oxhue.optics.design.goals import take_angle
from oxhue.optics.design.merit import make_merit
from oxhue.optics.design.presets import PRESETS
from oxhue.optics.errors import InputError
from oxhue.optics.films.notation import parse_medium, parse_stack


@pytest.mark.parametrize(
    ("text", "means"),
    [
        ("Rs>99% 532nm 45deg", ["R>99% 532nm at 45deg s"]),
        ("R>0.99 532..540", ["R>99% 532..540nm"]),
        ("R>=99% 532", ["R>99% 532nm"]),
        ("T≤1% 1064nm", ["T<1% 1064nm"]),
        ("luminous R>90%", ["R>90% luminous"]),
        ("Tvis>70%", ["T>70% luminous"]),
        ("Rsolar<30%", ["R<30% solar"]),
        ("Tsol<30%", ["T<30% solar"]),
        ("average R>90% 500..600nm", ["R>90% 500..600nm mean"]),
        ("OD>3 532nm", ["T<0.1% 532nm"]),
        ("OD<0.3 500..600nm", ["T>50.1187% 500..600nm"]),
        ("attenuation>30dB 532nm", ["T<0.1% 532nm"]),
        ("T<-30 dB 532nm", ["T<0.1% 532nm"]),
        ("R>-0.1dB 532nm", ["R>97.7237% 532nm"]),
        ("GD=20fs 750..850nm", ["delay=20fs 750..850nm"]),
        ("R within 1% of 50% 450..650nm", ["R=50% 450..650nm within 1%"]),
        ("Rp ±2% of 50% 550nm 45deg", ["R=50% 550nm at 45deg p within 2%"]),
        ("laser mirror 1064nm", ["R>99% 1064nm"]),
        ("solar mirror", ["R>88% solar"]),
        ("R=50% 550nm ±2%", ["R=50% 550nm within 2%"]),
        ("color #aabbcc 45°", ["colour #aabbcc at 45deg"]),
        (
            "Rs and Rp=50% 450..650nm 45deg within 1%",
            ["R=50% 450..650nm at 45deg s within 1%", "R=50% 450..650nm at 45deg p within 1%"],
        ),
        ("T<1% 532nm; R>50% 600nm", ["T<1% 532nm", "R>50% 600nm"]),
        ("notch 532nm", ["T<1% 525..539nm", "T>85% 426..495nm", "T>85% 569..692nm"]),
        ("neutral half mirror at 45°", ["R=50% 450..650nm at 45deg within 3%"]),
        ("mirror 532nm", ["R>99% 532nm"]),
        ("Mirror", ["R>95% 450..650nm"]),
        ("no glare 400..700nm 30deg", ["R<0.5% 400..700nm at 30deg"]),
        ("low emittance", ["T>70% luminous", "emittance<15%"]),
    ],
)
def test_goals_as_people_write_them(text, means):
    assert [str(goal) for goal in as_goals(text)] == means


@pytest.mark.parametrize("preset", PRESETS, ids=lambda one: one.names[0])
def test_every_preset_reads_back_in_full(preset):
    after = {"wavelength": " 550nm", "band": " 500..600nm"}.get(preset.needs, "")
    for name in preset.names:
        goals = as_goals(f"{name}{after}")
        assert goals
        assert [parse_goal(str(goal)) for goal in goals] == list(goals)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("T<30dB 532nm", "a share of the light is below 0 dB: -30dB; or attenuation>30dB"),
        ("T<-90dB 532nm", "must lie between -80 and 0 dB"),
        ("attenuation>30 532nm", "as attenuation>30dB"),
        ("GDD<20fs 800nm", "a delay that stays the same over a band has none"),
        ("R within 1% 450..650nm", "expected 'of' and the target"),
        ("notch", "'notch' is written as 'notch 532nm'"),
        ("notch 500..600nm", "is written"),
        ("hot mirror 532nm", "is written"),
        ("half mirror 532nm", "is written"),
        ("OD=3 532nm", "a bound on the optical density"),
        ("OD>12 532nm", "up to 8"),
        ("R>99 532nm", "in percent"),
        ("Rx>5%", "starts with"),
        ("Rs>5% 532nm p", "twice"),
        ("R>5% 50..60", "unit"),
    ],
)
def test_what_is_not_understood_is_refused(text, said):
    with pytest.raises(InputError, match=said):
        as_goals(text)


def test_goals_without_an_angle_take_the_one_of_use():
    goals = take_angle(as_goals(["R>99% 532nm", "R>90% 600nm at 30deg"]), 45.0)
    assert [goal.angles_deg for goal in goals] == [(45.0, 45.0), (30.0, 30.0)]
    assert take_angle(goals, 0.0) == goals


def test_an_angle_that_every_goal_contradicts_is_refused():
    with pytest.raises(InputError, match="no goal looks there"):
        take_angle(as_goals("R>90% 600nm at 30deg"), 45.0)
    assert take_angle(as_goals("R>90% 600nm 30..60deg"), 45.0)


def test_data_that_reach_the_goals_take_the_place_of_those_that_do_not():
    goals = as_goals(["T>80% 450..650nm", "R>80% 1200..2000nm"])
    palette, _, notes = reach_goals([parse_medium("Ag")], parse_stack("glass"), goals)
    low, high = palette[0].range_nm
    assert low <= 450.0
    assert high >= 2000.0
    assert "Ag is taken from" in notes[0]
    kept, _, notes = reach_goals(
        [parse_medium("Ag")], parse_stack("glass"), goals, kept=["Ag(mcpeak2015)"]
    )
    assert kept[0].label == "Ag(mcpeak2015)"
    assert notes == []


def test_the_emittance_on_window_glass_can_be_asked():
    answer = design("glass", "low emittance", "Ag,TiO2", max_layers=3, effort=20, count=1)
    assert answer.met
    assert any("stands for the glass" in note for note in answer.notes)


@pytest.mark.parametrize("plastic", ["PMMA 2mm", "PET 0.1mm", "polycarbonate 2mm"])
def test_sunlight_on_plastics_is_counted_from_where_their_data_begin(plastic):
    goals = as_goals("T<35% solar")
    assert span_of(goals) == (400.0, 2500.0)
    merit = make_merit(parse_stack(plastic), [parse_medium("TiO2")], goals)
    assert merit.sights[0].wavelength_nm[0] == 380.0
    assert merit.terms[0][1].weights.sum() == pytest.approx(1.0)
