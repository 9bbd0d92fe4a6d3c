"""What a verdict says in one breath, and the kinds of film that small chambers really give."""

import numpy as np
import pytest

from oxhue.optics.assay.assay import assay
from oxhue.optics.assay.colours import colours_of, draw_film_set
from oxhue.optics.assay.hypotheses import expansion, list_hypotheses, prepare_substrate
from oxhue.optics.assay.simulated_films import draw_sample
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.errors import InputError
from oxhue.optics.report.format import format_percent

VIEWING = ViewingConditions()


@pytest.fixture(scope="module")
def slide():
    """A mirror of titanium that lets dim light through, the common good film of a small jar."""
    return assay(metal="Ti", on="glass", seen="silver", finish="mirror", through="dim",
                 ohms="60ohm", strip="60mmx20mm")  # fmt: skip


def test_metal_is_stated_as_one_before_it_is_split(slide):
    first = slide.statements[0]
    assert first.name == "metal"
    assert first.words == "titanium metal"
    assert set(first.parts) == {"metal", "thin metal", "oxide skin"}
    assert first.probability == pytest.approx(sum(first.parts.values()))
    assert first.probability > 0.8
    low, high = slide.interval90_nm
    assert 25.0 < low < 50.0 < high < 110.0
    assert f"{100.0 * first.probability:.0f} %" in slide.verdict


def test_the_headline_contradicts_nothing_that_was_noticed(slide):
    assert "opaque" not in slide.verdict


def test_groups_say_what_it_is_made_of(slide):
    assert sum(slide.groups.values()) == pytest.approx(1.0)
    assert slide.groups["metal"] > 0.8
    oxide = assay(metal="Ti", seen="gold", ohms="open", through="clear").groups
    assert max(oxide, key=oxide.get) == "oxide"


def test_checks_and_evidence_speak_of_what_the_headline_states(slide):
    assert all("metal" in one.words or "little" in one.words for one in slide.why)
    raised = [one.sentence for one in slide.checks if "raise the certainty" in one.sentence]
    assert all(f"from {100.0 * slide.statements[0].probability:.0f} %" in one for one in raised[:1])


@pytest.mark.parametrize("seen", [{"ohms": "open"}, {"finish": "shiny"}, {"through": "dim"}])
def test_a_family_named_in_the_headline_has_the_chance_of_its_row(seen):
    verdict = assay(metal="Ti", on="glass", seen="gold", **seen)
    rows = {one.words: format_percent(one.probability) for one in verdict.hypotheses}
    families = {one.title: format_percent(one.probability) for one in verdict.hypotheses}
    first, *others = verdict.statements
    for one in others:
        if one.words in verdict.verdict and one.words in rows:
            assert f"{one.words} ({rows[one.words]})" in verdict.verdict
    leading = max(first.parts, key=first.parts.get)
    if rows.get(first.words) != format_percent(first.probability) and first.words in rows:
        title = next(one.title for one in verdict.hypotheses if one.name == leading)
        assert f"{title} {families[title]}" in verdict.verdict


def test_an_opaque_film_is_at_least_so_thick():
    verdict = assay(metal="brass", seen="gold", finish="mirror", through="opaque")
    first = verdict.statements[0]
    assert first.name == "metal"
    assert first.at_least_nm == pytest.approx(first.region90_nm[0][0])
    assert f"at least {first.at_least_nm:.0f} nm" in verdict.verdict


def test_black_is_from_texture_and_hides_the_thickness():
    verdict = assay(metal="Ti", on="glass", seen="black", finish="black", through="opaque")
    first = verdict.statements[0]
    assert first.name == "black metal"
    assert first.parts["rough base"] > 0.05
    assert not first.thickness_told
    assert " nm" not in verdict.verdict
    assert "smooth witness" in verdict.next_check
    smooth = assay(metal="Ti", seen="black", through="opaque", base_finish="smooth")
    assert "rough base" not in smooth.probabilities
    assert "smooth witness" not in smooth.next_check


def test_a_rough_base_may_be_said_before_its_name_or_by_itself():
    said, stated = prepare_substrate("rough glass 2mm"), prepare_substrate("glass 2mm", "rough")
    assert said.finish == stated.finish == "rough"
    assert said.bounces == stated.bounces
    assert said.base.slab_nm == stated.base.slab_nm == 2e6
    with pytest.raises(InputError, match="`base_finish` cannot be 'bumpy'"):
        prepare_substrate("glass", "bumpy")


def test_light_that_meets_a_film_more_often_is_darker():
    """R^m is left after m turns, so the rough base is darker than the same film on a smooth one."""
    films = draw_film_set(("Ti",), "glass", seed=1)
    bright = colours_of(films, VIEWING).front[:, 1]
    rough = films.family == "rough base"
    often = films.bounces[rough] > np.median(films.bounces[rough])
    assert np.all(films.bounces[~rough] == 1.0)
    assert bright[rough][often].mean() < 0.5 * bright[rough][~often].mean()


def test_a_mirror_on_plastic_that_reads_open_is_lacquered_or_cracked():
    verdict = assay(metal="Al", on="PET", seen="silver", finish="mirror", ohms="open")
    assert verdict.probabilities["lacquer"] + verdict.probabilities["cracked metal"] > 0.6
    assert verdict.probabilities["oxide skin"] < 0.1
    on_glass = assay(metal="Al", on="glass", seen="silver", finish="mirror", ohms="open")
    assert on_glass.probabilities["lacquer"] < verdict.probabilities["lacquer"]


def test_lacquer_dims_a_mirror_and_keeps_its_energy():
    """Under a coat of n = 1.52 a mirror of reflectance near 0.55 loses some tenths, and no light
    comes from nowhere."""
    films = draw_film_set(("Ti",), "glass", seed=1)
    seen = colours_of(films, VIEWING)
    coated, bare = films.family == "lacquer", films.family == "cracked metal"
    assert seen.front[coated, 1].mean() < seen.front[bare, 1].mean()
    assert np.all(seen.front[coated, 1] + seen.through[coated, 1] <= 100.0 + 1e-6)
    assert np.all(seen.back[coated, 1] + seen.through[coated, 1] <= 100.0 + 1e-6)


def test_aluminium_grows_no_thick_skin():
    """A few nanometres: N. Cabrera, N. F. Mott, Rep. Prog. Phys. 12, 163 (1949)."""
    (skin,) = (one for one in list_hypotheses(["Al"]) if one.family == "oxide skin")
    drawn = draw_sample(skin, 500, np.random.default_rng(0))
    assert drawn.thickness_nm.max() <= 10.0
    assert drawn.film_nm.min() > drawn.thickness_nm.max()


@pytest.mark.parametrize(("metal", "expected"), [("Sn", "islands"), ("In", "islands")])
def test_soft_metals_on_plastic_may_be_a_mirror_of_islands(metal, expected):
    verdict = assay(metal=metal, on="ABS", seen="silver", finish="mirror", ohms="open")
    assert verdict.probabilities[expected] > 0.05


def test_brass_oxidises_as_the_copper_in_it():
    assert expansion("brass", "Cu2O") == expansion("Cu", "Cu2O")
    verdict = assay(metal="brass", seen="pink", ohms="0.6ohm/sq", through="opaque")
    assert verdict.groups["metal"] > 0.8


def test_optical_data_that_were_never_measured_are_told():
    verdict = assay(metal="Zn", seen="silver", ohms="3ohm/sq")
    assert any("zinc" in one and "not measured" in one for one in verdict.warnings)
    assert not any("not measured" in one for one in assay(metal="Ti", seen="silver").warnings)


def test_a_run_in_a_described_jar_gives_computed_remedies(tmp_path):
    jar = tmp_path / "jar.toml"
    jar.write_text(
        'volume = "3l"\npumping = "2l/s"\nleak = "1e-2mbar.l/s"\nplastic = true\n', encoding="utf-8"
    )
    said = {"metal": "Ti", "seen": "gold", "ohms": "open", "rate": "0.1nm/s"}
    verdict = assay(**said, jar=jar, working_gas="argon", working_pressure="5e-3mbar")
    assert verdict.remedies[0].computed
    assert verdict.to_dict()["remedies"][0]["metal_after"] > 0.5
    (run,) = [one for one in verdict.observations if "in the chamber described" in one]
    assert run.endswith("and 0.1nm/s, in argon at 5e-3mbar")
    same = assay(
        **said, jar={"volume": "3l", "pumping": "2l/s", "leak": "1e-2mbar.l/s", "plastic": True},
        working_gas="argon", working_pressure="5e-3mbar",
    )  # fmt: skip
    assert same.remedies == verdict.remedies
    flushed = assay(**said, jar=jar, flush="3,5mbar").observations
    assert any("flushed before, which leaves as it is what leaks in" in one for one in flushed)


def test_a_good_film_needs_no_remedy_but_for_what_is_said_of_it(slide):
    assert not any("oxygen" in one.trouble and one.gain > 0.1 for one in slide.remedies)
    peeling = assay(metal="Ag", on="NdFeB", seen="silver", finish="mirror", trouble="peels")
    assert {one.trouble for one in peeling.remedies[:4]} == {"it comes off"}
    assert any("80 °C" in one.do for one in peeling.remedies)


def test_a_dull_or_banded_finish_is_a_trouble():
    dull = assay(metal="Al", seen="grey", finish="dull", ohms="2ohm/sq")
    assert any(one.trouble == "it is dull" for one in dull.remedies)
    banded = assay(metal="Ti", seen="light blue", finish="rainbow")
    assert any("rainbow" in one.trouble for one in banded.remedies)


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"rate": "0.1nm/s"}, "`jar` and `rate`"),
        ({"jar": {"volume": "3l"}}, "`jar` and `rate`"),
        ({"trouble": "sad"}, "`trouble` 'sad'"),
        ({"jar": 3, "rate": "1nm/s"}, "`jar` must be"),
        ({"jar": {"volume": "3l"}, "rate": "1nm/s", "flush": "3"}, "`flush` must be"),
        (
            {
                "pressure": "1e-5mbar",
                "rate": "1nm/s",
                "working_gas": "none",
                "working_pressure": "5e-3mbar",
            },
            "`working_gas` is 'none'",
        ),
    ],
)
def test_what_is_said_of_a_run_is_refused_in_a_sentence(said, words):
    with pytest.raises(InputError, match=words):
        assay(metal="Ti", seen="gold", **said)
