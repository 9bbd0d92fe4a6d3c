"""A kiln learnt from test pieces: narrower, kept in a file, honest about misfits."""

from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_hex

from benchmarks.drawn import draw_readings
from oxhue.optics.colour.conditions import ViewingConditions
from oxhue.optics.errors import InputError, OutOfRangeError, TableError
from oxhue.optics.gauge.batch import read_readings
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.inference.reading import parse_reading
from oxhue.optics.inference.simulate import SampledFilms
from oxhue.optics.inference.uncertainty import DEFAULTS
from oxhue.optics.oxidation.calibration import draw_prior, fit_law
from oxhue.optics.oxidation.log_file import read_log
from oxhue.optics.oxidation.metals import find_metal
from oxhue.optics.oxidation.schedule import hold
from oxhue.optics.report.style import INK
from oxhue.optics.tint.calibrate import coupons
from oxhue.optics.tint.coupon import film_share, piece_from_colour, piece_from_thickness
from oxhue.optics.tint.coupon_file import read_pieces
from oxhue.optics.tint.kiln import format_kiln, load_kiln, shipped_kiln
from oxhue.optics.tint.recipes import recipes
from oxhue.optics.tint.tint import tint

PIECES = """# numeral plates, kiln in the back room
id,metal,temperature_C,time_min,word,hex,Lab,thickness_nm,sd,how
a,Ti,340,30,pale straw,,,,,
b,Ti,400,30,,#b39862,,,,card
c,Ti,440,30,,,,28,3,
d,Ti,480,30,purple,,,,,
e,Ti,520,20,,,"45,-2,-40",,2,instrument
"""


@pytest.fixture(scope="module")
def learned(tmp_path_factory):
    path = tmp_path_factory.mktemp("kiln") / "pieces.csv"
    path.write_text(PIECES, encoding="utf-8")
    return coupons(path)


def test_five_pieces_of_every_kind(learned):
    assert learned.fitted.pieces == 5
    assert [one.id for one in learned.residuals] == ["a", "b", "c", "d", "e"]
    assert learned.fits
    assert learned.width_ratio < 0.5
    for one in learned.residuals:
        low, high = one.interval90_nm
        assert low < one.predicted_nm < high
        assert 0.0 < one.fit_p <= 1.0
    assert {one.name for one in learned.parameters} >= {"ln_thickness_nm", "energy_kJ_mol"}


def test_pieces_are_drawn_in_the_colours_seen_and_the_kiln_with_all_of_its_own(learned):
    seen, kiln = (one.draw() for one in learned.document().figures)
    dots = seen.axes[0].collections[-1]
    drawn = [to_hex(one) for one in dots.get_facecolor()]
    assert drawn[1] == "#b39862"
    assert drawn[2] == INK  # a thickness has no colour
    labels = [one.get_text() for one in seen.axes[0].get_xticklabels()]
    assert labels[0] == "a\n340 °C\n30 min\npale straw"
    assert labels[1] == "b\n400 °C\n30 min"  # its dot has the colour
    assert kiln.axes[0].get_ylabel() == "temperature [°C]"
    assert "#b39862" in learned.summary()


def test_the_next_piece_is_worth_running(learned):
    after = learned.next_piece
    low, high = find_metal("Ti").range_C
    assert low <= after.temperature_C <= high
    assert after.spread_then < after.spread_now


def test_a_saved_kiln_predicts_as_before(learned, tmp_path):
    path = tmp_path / "kiln.json"
    path.write_text(format_kiln(learned.fitted), encoding="utf-8")
    kept = load_kiln(path)
    heat = hold(460.0, 1800.0)
    one, other = (tint("Ti", heat, kiln=kiln) for kiln in (learned.fitted, kept))
    assert one.thickness_nm == pytest.approx(other.thickness_nm, rel=1e-4)
    assert "5 test pieces" in one.source
    asked = recipes("Ti", "purple", kiln=kept, times=[1200.0])
    assert asked.source == other.source
    shipped = tint("Ti", heat)
    width = [np.log(t.interval90_nm[1] / t.interval90_nm[0]) for t in (one, shipped)]
    assert width[0] < 0.5 * width[1]
    assert any("far from them" in w for w in tint("Ti", hold(640.0, 1800.0), kiln=kept).warnings)
    with pytest.raises(OutOfRangeError, match="were of titanium"):
        tint("steel", hold(270.0, 600.0), kiln=kept)


def test_the_same_seed_gives_the_same_answer(tmp_path):
    path = tmp_path / "pieces.csv"
    path.write_text("metal,temperature_C,time_min,thickness_nm\nsteel,270,10,30\n", "utf-8")
    one, other = coupons(path, seed=4), coupons(path, seed=4)
    assert one.residuals == other.residuals
    assert any("1 test piece tells little" in warning for warning in one.warnings)


def test_a_piece_that_does_not_belong_is_named(tmp_path):
    path = tmp_path / "pieces.csv"
    rows = [f"Ti,{c},30,{nm},1" for c, nm in ((380, 14), (410, 19), (440, 27), (470, 37))]
    rows.append("Ti,455,30,150,1")
    path.write_text("metal,temperature_C,time_min,thickness_nm,sd\n" + "\n".join(rows), "utf-8")
    found = coupons(path)
    assert not found.fits
    assert any("piece 5" in warning for warning in found.warnings)
    assert found.fitted.warnings


def test_profiles_and_kilns(tmp_path):
    (tmp_path / "run1.csv").write_text(
        "time_min,temperature_C\n0,20\n20,270\n30,270\n50,20\n", encoding="utf-8"
    )
    path = tmp_path / "pieces.csv"
    path.write_text(
        "kiln,metal,temperature_C,time_min,profile,thickness_nm\nold,steel,,,run1.csv,36\n"
        "new,steel,270,10,,24\nnew,steel,290,10,,31\n",
        encoding="utf-8",
    )
    found = coupons(path, kiln="new")
    assert (found.kiln, found.fitted.pieces) == ("new", 2)
    assert coupons(path).kiln == "old"
    with pytest.raises(InputError, match="no kiln 'third'"):
        coupons(path, kiln="third")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("metal,temperature_C,time_min,word\nTi,450,20,\n", "line 2 states no outcome"),
        ("metal,temperature_C,time_min,word,hex\nTi,450,20,blue,#00f\n", "word and hex"),
        ("metal,temperature_C,time_min,wrd\nTi,450,20,blue\n", "did you mean word"),
        ("metal,temperature_C,time_min,word\nTi,450,20,bleu\n", "line 2: colour word 'bleu'"),
        ("metal,temperature_C,time_min,word\nTi,450,,blue\n", "line 2: give temperature_C and"),
        ("metal,temperature_C,time_min,word\nTi,hot,20,blue\n", "'hot', which is not a number"),
        ("metal,temperature_C,time_min,word\nTi,420C,20,blue\n", "write it without its unit"),
        ("metal,temperature_C,time_min,colour\nTi,420,20,blue\n", "a colour's name under word"),
        ("metal,temperature_C,time_min,word\nTi,450,-1,blue\n", "from 0 to a century"),
        ("metal,temperature_C,time_min,word\nTi,-400,9,blue\n", "absolute zero"),
        ("metal,temperature_C,time_min,word\nTi,1700,9,blue\n", "melting point"),
        ("metal,temperature_C,time_min,word\nTi,450,9,blue\nFe,250,9,blue\n", "Ti and steel"),
        ("metal,temperature_C,time_min,Lab\nTi,450,9,40,10,10\n", "put L,a,b in quotes"),
        ("metal,temperature_C,time_min,thickness_nm\nTi,450,9,-4\n", "not between 0 and"),
        ("metal,temperature_C,time_min,word,how\nTi,450,9,blue,eye\n", "line 2: unknown kind"),
        ("metal,profile,word\nTi,none.csv,blue\n", "there is no file"),
        ("temperature_C,time_min,word\n450,9,blue\n", "no column metal"),
        ("metal,metal\nTi,Ti\n", "names a column twice"),
        ("", "a line for each test piece"),
        ("metal,temperature_C,time_min,word\nTa,400,60,blue\n", "no colour of oxide on tantalum"),
    ],
)
def test_files_that_cannot_be_used(text, words, tmp_path):
    path = tmp_path / "pieces.csv"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        coupons(path)


def test_pieces_read_as_written(tmp_path):
    path = tmp_path / "pieces.csv"
    path.write_text(PIECES, encoding="utf-8")
    metal, pieces = read_pieces(path)
    assert metal.key == "Ti"
    assert [piece.text for piece in pieces][:2] == ["pale straw", "#b39862"]
    assert pieces[2].thickness_nm == 28.0
    assert pieces[2].sd == 3.0
    assert pieces[4].reading is not None
    assert pieces[4].reading.doubts.noise_de == 2.0


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("not json", "is not a saved kiln; if it lists test pieces, or"),
        ('{"format": 9, "metal": "Ti"}', "format 9"),
        (
            '{"format": 2, "metal": "Ti"}',
            "a saved kiln, for it lacks between_C; if it",
        ),
    ],
)
def test_files_that_are_no_kiln(text, words, tmp_path):
    path = tmp_path / "kiln.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(InputError, match=words):
        load_kiln(path)


def test_a_kiln_with_impossible_draws_is_refused(tmp_path):
    kiln = shipped_kiln(find_metal("Ti"), count=30)
    kiln = replace(kiln, pieces=5, made_from="pieces.csv", between_C=(400.0, 500.0))
    broken = replace(kiln, draws=replace(kiln.draws, native_nm=-kiln.draws.native_nm))
    path = tmp_path / "kiln.json"
    path.write_text(format_kiln(broken), encoding="utf-8")
    with pytest.raises(InputError, match="no law allows"):
        load_kiln(path)


def simulated_piece(metal, heat, world, how, rng):
    """One coupon of a world drawn from the prior, its colour read with all its doubts."""
    film = world.thickness_nm(metal, heat, rng)
    if how == "thickness":
        return piece_from_thickness(
            metal, heat, float(film[0] * np.exp(0.05 * rng.standard_normal()))
        )
    pairs = list_film_models(metal.films, metal.on)
    name = film_share(metal)[0][int(world.film[0])]
    j = rng.choice([j for j, pair in enumerate(pairs) if pair.film_name == name])
    doubts = replace(DEFAULTS[how], index_spread=0.0)
    films = SampledFilms(np.array([j]), film, world.index_error)
    lab = draw_readings(films, pairs, doubts=doubts, viewing=ViewingConditions(), rng=rng)[0]
    text = f"{min(max(lab[0], 0.0), 100.0):.2f},{lab[1]:.2f},{lab[2]:.2f}"
    return piece_from_colour(metal, heat, parse_reading(text, how), viewing=ViewingConditions())


# Widths of ln thickness at a new heat after five coupons, over those of the shipped law. Longer
# runs on Ti, steel and 304 (12 to 60 kilns each) gave 0.34 to 0.42 for photos, 0.32 to 0.34 for
# cards, 0.28 to 0.31 for instruments, 0.28 to 0.33 for measured thicknesses, with 87 to 92 % of
# truths inside; colours that are only named gave 0.49 on Ti, 0.56 on steel, 0.41 on 304.
@pytest.mark.parametrize(
    ("key", "how", "degrees", "new_C", "minutes"),
    [
        ("Ti", "photo", (340, 400, 450, 500, 550), 475.0, 30.0),
        ("steel", "card", (220, 245, 270, 295, 320), 260.0, 10.0),
        ("stainless", "thickness", (320, 380, 430, 500, 560), 410.0, 60.0),
    ],
)
def test_five_coupons_halve_the_width_of_a_prediction(key, how, degrees, new_C, minutes):
    metal, rng = find_metal(key), np.random.default_rng(11)
    share = film_share(metal)[1]
    shipped = draw_prior(metal, share, count=2000, rng=rng)
    new = hold(new_C, 60.0 * minutes)

    def ends(draws):
        return np.quantile(np.log(draws.thickness_nm(metal, new, rng)), [0.05, 0.95])

    ratios, held = [], []
    for _ in range(4):
        world = draw_prior(metal, share, count=1, rng=rng)
        heats = [hold(float(c), 60.0 * minutes) for c in degrees]
        pieces = [simulated_piece(metal, heat, world, how, rng) for heat in heats]
        low, high = ends(fit_law(metal, pieces, share, count=500, rng=rng).draws)
        ratios.append((high - low) / np.ptp(ends(shipped)))
        truth = float(np.log(world.thickness_nm(metal, new, rng)[0]))
        held.append(low - 0.1 < truth < high + 0.1)
    assert np.mean(ratios) < 0.5
    assert sum(held) >= 3


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("[" * 50_000, "is not a saved kiln; if it lists test pieces, or"),
        ('{"a":' * 20_000, "is not a saved kiln; if it lists test pieces, or"),
        ('{"format": 2}\0', "is a binary file"),
        ('{"format": ' + "9" * 5000, "is not a saved kiln; if it lists test pieces, or"),
    ],
)
def test_a_hostile_kiln_is_refused(text, said, tmp_path):
    (tmp_path / "kiln.json").write_text(text)
    with pytest.raises(TableError, match=said):
        load_kiln(tmp_path / "kiln.json")


@pytest.mark.parametrize("read", [read_pieces, read_log, read_readings])
@pytest.mark.parametrize("text", ['a,"' + "x" * 99_000 + "\n" + "y" * 99_000, "x\0y"])
def test_hostile_rows_are_refused(read, text, tmp_path):
    (tmp_path / "rows.csv").write_text(f"hex,id\n{text}\n{text}\n")
    with pytest.raises(TableError):
        read(tmp_path / "rows.csv")


def test_rows_that_begin_with_a_hex_value_are_no_remarks(tmp_path):
    path = tmp_path / "pieces.csv"
    path.write_text(
        "# from the kiln in the back room\nhex,thickness_nm,metal,temperature_C,time_min\n"
        "#b39862,,Ti,400,30\n,28,Ti,440,30\n#6a3fa0,,Ti,480,30\n"
    )
    _, pieces = read_pieces(path)
    assert [piece.text for piece in pieces] == ["#b39862", "28 nm", "#6a3fa0"]
