"""Thickness and index out of simulated spectra, and every part the fit is made of."""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.descents import scipys
from benchmarks.spectrum_calibration import tally
from oxhue.optics.errors import InputError, OutOfRangeError, UnknownNameError
from oxhue.optics.files.spectrum import Spectrum
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.films.solve import solve
from oxhue.optics.inference.hypotheses import list_film_models
from oxhue.optics.spectrum.fit import fit_spectrum
from oxhue.optics.spectrum.forward_model import ForwardModel
from oxhue.optics.spectrum.forward_models import list_forward_models, prepare_readings
from oxhue.optics.spectrum.index_models import list_index_models
from oxhue.optics.spectrum.modes import find_modes, noise_by_differences
from oxhue.optics.spectrum.noise_model import NoiseModel, NoiseSetting
from oxhue.optics.spectrum.sample import Sample
from oxhue.optics.spectrum.sample_batch import ModelBatch, batch_models, join_unknowns
from oxhue.optics.spectrum.search import descend
from oxhue.optics.spectrum.slit import Slit
from oxhue.optics.spectrum.spot import Build
from oxhue.optics.spectrum.survey import Survey

WAVELENGTH_NM = np.arange(400.0, 701.0, 10.0)
# One data set each where a test is not about weighing them: a fit then takes a tenth of the time.
SILICA, SILICON = "SiO2(malitson1965)", "Si(green2008)"


def measured(stack, kind="reflectance", noise=0.01, seed=5, angle=0.0, wavelength=WAVELENGTH_NM):
    """A spectrum of a stack of our notation, with white noise."""
    response = solve(parse_stack(stack), wavelength, angle)
    power = response.R if kind == "reflectance" else response.T
    rng = np.random.default_rng(seed)
    return Spectrum(wavelength, power + noise * rng.standard_normal(power.size), kind)


def truth_near(fit, thickness):
    """Whether a truth lies within twice the interval's reach from its middle."""
    low, high = fit.interval90_nm
    return abs(thickness - 0.5 * (low + high)) < high - low


@pytest.mark.parametrize(
    ("film", "on", "kind", "thickness"),
    [
        ("TiO2", "Ti", "reflectance", 45.0),
        (SILICA, SILICON, "reflectance", 320.0),
        pytest.param("Fe2O3", "Fe", "reflectance", 80.0, marks=pytest.mark.slow),
        pytest.param("Ta2O5", "glass 1mm", "transmittance", 150.0, marks=pytest.mark.slow),
        pytest.param("TiO2", "Ti 60nm / glass 1mm", "reflectance", 90.0, marks=pytest.mark.slow),
    ],
)
def test_a_film_is_found_again(film, on, kind, thickness):
    fit = fit_spectrum(film, on, measured(f"{film} {thickness}nm / {on}", kind))
    assert truth_near(fit, thickness)
    assert fit.explained_by == "film"
    assert not fit.no_film_needed
    assert fit.fits
    # White noise of 0.01 leaves a residual of about that, less what the parameters take up.
    assert 0.005 < fit.rms_residual < 0.013
    assert fit.effective_draws > 100
    true_n = parse_medium(film).nk(550.0).real
    low, high = fit.n_interval90
    assert abs(true_n - 0.5 * (low + high)) < high - low
    assert sum(one.probability for one in fit.candidates) == pytest.approx(1.0)
    assert sum(fit.models.values()) == pytest.approx(1.0)
    np.testing.assert_allclose(fit.value - fit.curve, fit.residual)


def test_little_noise_pins_thickness_and_index():
    wavelength = np.arange(380.0, 781.0, 5.0)
    spectrum = measured(f"{SILICA} 300nm / {SILICON}", noise=5e-4, wavelength=wavelength)
    fit = fit_spectrum(SILICA, SILICON, spectrum, roughness=False)
    assert fit.thickness_nm == pytest.approx(300.0, abs=2.0)
    assert fit.n == pytest.approx(parse_medium(SILICA).nk(550.0).real, abs=0.01)


def test_a_tilted_piece_is_read_at_its_angle():
    spectrum = measured(f"{SILICA} 500nm / {SILICON}", angle=50.0)
    asked = {"model": "table", "between_nm": (300.0, 700.0)}
    fit = fit_spectrum(SILICA, SILICON, spectrum, angle_deg=50.0, **asked)
    assert truth_near(fit, 500.0)
    askew = fit_spectrum(SILICA, SILICON, spectrum, angle_deg=0.0, **asked)
    assert abs(askew.thickness_nm - 500.0) > 20.0


def test_the_same_seed_gives_the_same_answer():
    spectrum = measured(f"{SILICA} 120nm / {SILICON}")
    asked = {"model": "table", "between_nm": (50.0, 250.0)}
    first, second = (fit_spectrum(SILICA, SILICON, spectrum, **asked, seed=3) for _ in range(2))
    assert first.interval90_nm == second.interval90_nm
    assert first.seed == 3
    other = fit_spectrum(SILICA, SILICON, spectrum, **asked, seed=4)
    assert other.interval90_nm != first.interval90_nm
    np.testing.assert_allclose(other.interval90_nm, first.interval90_nm, atol=0.5)


@pytest.mark.parametrize(
    ("piece", "film", "on", "kind", "what"),
    [
        (SILICON, SILICA, SILICON, "reflectance", "bare base"),
        ("Al(mcpeak2015) 300nm / BK7", "Al(mcpeak2015)", "BK7", "transmittance", "opaque film"),
        *(
            pytest.param(*case, marks=pytest.mark.slow)
            for case in (
                ("Ti", "TiO2", "Ti", "reflectance", "bare base"),
                ("glass 1mm", "Ta2O5", "glass 1mm", "transmittance", "bare base"),
                ("Al 300nm / glass 1mm", "Al", "glass 1mm", "transmittance", "opaque film"),
                ("Al 300nm / glass 1mm", "Al", "glass 1mm", "reflectance", "opaque film"),
                ("Ti", "Ti", "glass 1mm", "reflectance", "opaque film"),
            )
        ),
    ],
)
def test_a_piece_that_needs_no_film_is_recognised(piece, film, on, kind, what):
    fit = fit_spectrum(film, on, measured(piece, kind))
    assert fit.no_film_needed
    assert fit.explained_by == what
    assert any("explains the spectrum as well" in note for note in fit.notes)
    if what == "opaque film":
        assert fit.interval90_nm[0] < 300.0


def test_a_foreign_piece_does_not_fit():
    assert not fit_spectrum("TiO2(siefke2016)", "Ti(johnson1974)", measured("Cu")).fits
    assert not fit_spectrum(SILICA, SILICON, measured("Au")).fits


def test_no_better_minimum_than_those_listed():
    spectrum = measured("TiO2 600nm / Ti")
    pairs = list_film_models(("TiO2(siefke2016)",), "Ti(johnson1974)")
    worlds, _ = list_forward_models(
        pairs,
        WAVELENGTH_NM,
        kind="reflectance",
        model="table",
        between_nm=(0.0, 2000.0),
        roughness=True,
        angle_deg=0.0,
        bandwidth_nm=0.0,
    )
    film = [world for world in worlds if world.has_thickness and world.between_nm[1] == 2000.0]
    assert film[0].between_nm[0] < 500.0
    misfit = NoiseModel.for_readings(WAVELENGTH_NM)
    modes, _, _ = find_modes(film, spectrum.value, misfit)
    starts = np.zeros((401, 1 + len(film[0].parameters)))
    starts[:, 0] = np.linspace(*film[0].between_nm, 401)
    whitening = misfit.whitening(NoiseSetting(0.01, 0.0))
    family = ModelBatch((film[0],))
    first = np.zeros(len(starts), dtype=int)
    _, _, cost = descend(family, first, starts, reading=spectrum.value, whitening=whitening)
    own = np.array([mode.x for mode in modes if not mode.world.doubt])
    _, _, found = descend(
        family, first[: len(own)], own, reading=spectrum.value, whitening=whitening
    )
    assert found.min() < cost.min() + 0.01


@pytest.mark.parametrize(
    ("model", "numbers", "thickness_nm"),
    [("table", (1.8,), 1982.0), ("table", (-2.0,), 1510.0), ("cauchy", (0.5, -0.3, -3.3), 1660.0)],
)
def test_a_film_of_an_unlikely_index_is_met_wherever_it_is_in_the_range(
    model, numbers, thickness_nm
):
    """Its optical path may lie past the range's ends for a middling index; its bend far off."""
    pairs = list_film_models(("TiO2(siefke2016)",), "Ti(johnson1974)")
    between_nm = (1500.0, 2000.0)
    worlds, _ = list_forward_models(
        pairs,
        WAVELENGTH_NM,
        kind="reflectance",
        model=model,
        between_nm=between_nm,
        roughness=True,
        angle_deg=0.0,
    )
    film = next(world for world in worlds if world.has_thickness)
    x = np.zeros((1, 1 + len(film.parameters)))
    x[0, : 1 + len(numbers)] = thickness_nm, *numbers
    modes, _, _ = find_modes([film], film.curves(x)[0], NoiseModel.for_readings(WAVELENGTH_NM))
    assert modes[0].rms < 2e-3
    assert modes[0].thickness_nm == pytest.approx(thickness_nm, rel=0.02)


@pytest.mark.parametrize(
    ("stack", "film", "on", "kind"),
    [
        ("TiO2 300nm / Ti", "TiO2", "Ti(johnson1974)", "reflectance"),
        pytest.param("Ta2O5 120nm / glass 1mm", "Ta2O5", "glass 1mm", "transmittance",
                     marks=pytest.mark.slow),
    ],
)  # fmt: skip
def test_descents_end_as_low_as_scipys(stack, film, on, kind):
    """From the same starts, with the same slopes and bounds, all data sets at once."""
    reading = measured(stack, kind).value
    worlds, _ = list_forward_models(
        list_film_models((film,), on),
        WAVELENGTH_NM,
        kind=kind,
        model="auto",
        between_nm=(0.0, 600.0),
        roughness=True,
        angle_deg=0.0,
    )
    whitening = NoiseModel.for_readings(WAVELENGTH_NM).whitening(NoiseSetting(0.01, 0.004))
    # Thicknesses of the first grid, the film's: at its end, best fits to thicker ones are cut off.
    films = [world for world in worlds if world.has_thickness and world.slit is worlds[0].slit]
    assert (
        max(float(layer.thickness_nm) for layer in parse_stack(stack).layers)
        < (films[0].between_nm[1])
    )
    for family in batch_models(films):
        surveys = [Survey.of(world) for world in family.worlds]
        best = [survey.starts("", reading, whitening)[0][:2] for survey in surveys]
        which, starts = join_unknowns(best)
        _, _, cost = descend(family, which, starts, reading=reading, whitening=whitening)
        theirs = [
            scipys(family.worlds[i], start, reading, whitening)
            for i, start in zip(which, starts, strict=True)
        ]
        assert cost.min() < min(theirs) + 0.01


def test_worlds_together_are_each_by_itself():
    worlds, _ = list_forward_models(
        list_film_models(("TiO2",), "Ti"),
        WAVELENGTH_NM,
        kind="reflectance",
        model="auto",
        between_nm=(0.0, 600.0),
        roughness=True,
        angle_deg=20.0,
    )
    families = batch_models(worlds)
    assert len(families) < 0.2 * len(worlds)
    rng = np.random.default_rng(4)
    for family in families:
        which = np.arange(len(family.worlds))
        x = np.abs(rng.standard_normal((which.size, family.worlds[0].bounds[0].size)))
        if family.worlds[0].has_thickness:
            x[:, 0] *= 100.0
        together = [family.at(which).curves(x), *family.at(which).slopes(x)]
        for i, world in enumerate(family.worlds):
            apart = [world.curves(x[i : i + 1]), *world.slopes(x[i : i + 1])]
            for found, own in zip(together, apart, strict=True):
                np.testing.assert_allclose(found[i], own[0], rtol=1e-12, atol=1e-14)


@pytest.mark.parametrize(
    ("film", "on", "kind", "angle"),
    [
        ("TiO2", "Ti", "reflectance", 0.0),
        ("Fe2O3", "Fe", "reflectance", 40.0),
        pytest.param("Al", "glass 1mm", "transmittance", 0.0, marks=pytest.mark.slow),
        ("TiO2(siefke2016)", "Ti(johnson1974) 20nm / BK7 1mm | MgF2 90nm", "reflectance", 30.0),
    ],
)
def test_slopes_match_central_differences(film, on, kind, angle):
    worlds, _ = list_forward_models(
        list_film_models((film,), on),
        WAVELENGTH_NM,
        kind=kind,
        model="auto",
        between_nm=(0.0, 500.0),
        roughness=True,
        angle_deg=angle,
    )
    kinds = {(w.model.name[:6] if w.model else "", w.piece.role): w for w in worlds}
    assert {role for _, role in kinds} >= {"film", "none"}
    rng = np.random.default_rng(2)
    doubted = [w.with_doubt(doubt) for w in kinds.values() for doubt in w.doubts]
    assert {w.doubt for w in doubted} >= {"thickness spread", "mixed layer", "finish", "bandwidth"}
    for world in [*kinds.values(), *(w.draft for w in kinds.values()), *doubted]:
        low, _ = world.bounds
        x = np.abs(rng.standard_normal((2, low.size))) + 0.1
        if world.has_thickness:
            x[:, 0] = 40.0
        curve, slopes = world.slopes(x)
        np.testing.assert_allclose(curve, world.curves(x), rtol=1e-12, atol=1e-15)
        for i in range(low.size):
            step = np.zeros(low.size)
            step[i] = 1e-4
            expected = (world.curves(x + step) - world.curves(x - step)) / 2e-4
            np.testing.assert_allclose(slopes[..., i], expected, rtol=1e-5, atol=1e-8)


@pytest.mark.parametrize("kind", ["reflectance", "transmittance"])
@pytest.mark.parametrize("on", ["Si", "Al 15nm / glass 1mm | MgF2 100nm", "TiO2->SiO2 80nm / BK7"])
def test_a_piece_reads_what_the_stack_shows(on, kind):
    stack = parse_stack(f"TiO2 70nm / {on}")
    piece = Sample.on(parse_stack(on), WAVELENGTH_NM, kind=kind, angle_deg=35.0, role="film")
    film = stack.layers[0].medium.nk(WAVELENGTH_NM)[None]
    read = piece.powers(film, Build(np.array([70.0])))[0]
    shown = solve(stack, WAVELENGTH_NM, 35.0)
    # A graded layer is cut into 60 slices here and 160 there.
    np.testing.assert_allclose(read, shown.R if kind == "reflectance" else shown.T, atol=1e-4)


def test_noise_is_told_from_a_smooth_curve():
    rng = np.random.default_rng(0)
    curve = 0.3 + 0.2 * np.sin(np.linspace(0.0, 6.0, 200))
    found = noise_by_differences(curve + 0.01 * rng.standard_normal(200))
    assert found == pytest.approx(0.01, rel=0.25)


@pytest.mark.parametrize(
    ("film", "names"),
    [
        ("TiO2", {"TiO2(siefke2016), scaled", "Cauchy with Urbach tail"}),
        ("Fe2O3", {"Fe2O3(querry1985), scaled", "Tauc-Lorentz"}),
        ("Al", {"Al(mcpeak2015), scaled", "Drude-Lorentz"}),
    ],
)
def test_the_formula_suits_the_film_and_starts_near_its_tables(film, names):
    media = [(parse_medium(film), 1.0)]
    models = list_index_models(media, WAVELENGTH_NM)
    assert {model.name for model in models} == names
    assert sum(model.weight for model in models) == pytest.approx(1.0)
    table = media[0][0].nk(WAVELENGTH_NM)
    for model in models:
        middle = np.array([[p.value(np.zeros(1))] for p in model.parameters])
        nk, _ = model.at(WAVELENGTH_NM)(middle, False)
        # A formula may miss its table by 0.15 rms, the limit beyond which it is not used.
        assert np.sqrt(np.mean(np.abs(nk - table) ** 2)) < 0.3


def test_a_prior_sums_to_the_weight_of_its_world():
    """Roughness and haze cannot be negative, and count in full over their positive half."""
    worlds, _ = list_forward_models(
        list_film_models(("TiO2(siefke2016)",), "Ti(johnson1974)"),
        WAVELENGTH_NM,
        kind="reflectance",
        model="table",
        between_nm=(0.0, 100.0),
        roughness=True,
        angle_deg=0.0,
    )
    bare = next(world for world in worlds if not world.has_thickness)
    z = np.linspace(-8.0, 8.0, 4001)
    for world in (bare, bare.with_doubt("scale"), bare.with_doubt("finish")):
        x = np.stack(np.meshgrid(*[z[::20]] * len(world.parameters), indexing="ij"), axis=-1)
        cell = (20.0 * (z[1] - z[0])) ** len(world.parameters)
        density = np.exp(world.log_prior(x.reshape(-1, len(world.parameters))))
        assert density.sum() * cell == pytest.approx(world.weight, rel=0.05)
    film = next(world for world in worlds if world.has_thickness)
    assert [p.name for p in film.parameters] == ["index scale", "roughness", "haze"]
    x = np.array([[50.0, 0.0, 0.0, 0.0]])
    due = np.log(film.weight / 100.0) - 1.5 * np.log(2.0 * np.pi) + 2.0 * np.log(2.0)
    assert film.log_prior(x)[0] == pytest.approx(due)


def test_an_impossible_resonance_reads_as_nothing():
    pairs = list_film_models(("Fe2O3",), "Fe(johnson1974)")
    worlds, _ = list_forward_models(
        pairs,
        WAVELENGTH_NM,
        kind="reflectance",
        model="tauc-lorentz",
        between_nm=(0.0, 300.0),
        roughness=True,
        angle_deg=0.0,
    )
    world = next(world for world in worlds if world.has_thickness)
    x = np.zeros((2, 1 + len(world.parameters)))
    width = [p.name for p in world.parameters].index("C")
    x[1, 1 + width] = 60.0
    curves = world.curves(x)
    assert np.isfinite(curves[0]).all()
    assert np.isnan(curves[1]).all()
    assert np.isnan(world.slopes(x)[0][1]).all()


def test_readings_beyond_the_data_are_left_out_and_said():
    wavelength = np.arange(150.0, 1100.0, 2.0)
    spectrum = Spectrum(wavelength, np.full(wavelength.size, 0.3), "reflectance")
    kept, value, notes = prepare_readings(spectrum, list_film_models(("TiO2",), "Ti"))
    assert kept[0] > 150.0
    assert kept.size == value.size <= 160
    assert "the optical data end there" in notes[0]
    assert "averaged in groups of" in notes[1]
    far = Spectrum(wavelength * 1000.0, spectrum.value, "reflectance")
    with pytest.raises(OutOfRangeError, match="a fit needs at least 8"):
        prepare_readings(far, list_film_models(("TiO2",), "Ti"))


def test_averaged_readings_stay_on_the_curve():
    """A mean over part of a fringe is nearer its middle; what is kept must not be."""
    wavelength = np.arange(400.0, 781.0)

    def curve(at):
        return 0.4 + 0.2 * np.cos(4.0 * np.pi * 2.6 * 600.0 / at)

    kept, value, _ = prepare_readings(
        Spectrum(wavelength, curve(wavelength), "reflectance"), list_film_models(("TiO2",), "Ti")
    )
    assert kept.size == 127
    missed = np.abs(value - curve(kept))
    assert missed[1:-1].max() < 2e-5
    assert missed.max() < 5e-4
    means = curve(wavelength).reshape(-1, 3).mean(axis=1)
    assert np.abs(means - curve(kept)).max() > 5e-4


def test_a_thick_film_read_finely_is_not_taken_for_thicker():
    spectrum = measured("TiO2 600nm / Ti", noise=1e-3, wavelength=np.arange(400.0, 781.0))
    fit = fit_spectrum("TiO2", "Ti", spectrum, model="table", roughness=False)
    low, high = fit.interval90_nm
    assert low < 600.0 < high
    assert fit.thickness_nm == pytest.approx(600.0, abs=1.0)
    assert "smooth" in fit.notes[-1]


def test_a_world_keeps_its_bounds_and_counts_its_parameters():
    world = ForwardModel.of(
        "Ti",
        None,
        Sample.on(parse_stack("Ti"), WAVELENGTH_NM, kind="reflectance", angle_deg=0.0, role="none"),
        between_nm=(0.0, 100.0),
        weight=1.0,
        roughness=True,
        slit=Slit.of(WAVELENGTH_NM, WAVELENGTH_NM, 0.0),
    )
    assert [p.name for p in world.parameters] == ["haze"]
    low, _ = world.bounds
    assert low[0] == 0.0
    bare = solve(parse_stack("Ti"), WAVELENGTH_NM).R
    np.testing.assert_allclose(world.curves(np.zeros((1, 1)))[0], bare, rtol=1e-12)
    hazy = world.curves(np.array([[2.0]]))[0]
    # Davies' law: the share lost to scatter is (4πσ/λ)², σ = 2 spreads of 1.5 nm.
    np.testing.assert_allclose(np.log(hazy / bare), -((4 * np.pi * 3.0 / WAVELENGTH_NM) ** 2))


@pytest.mark.parametrize(
    ("change", "error", "message"),
    [
        ({"model": "cauchyy"}, UnknownNameError, "did you mean cauchy"),
        ({"between_nm": (100.0, 50.0)}, OutOfRangeError, "must run upwards between 0 and 20000"),
        ({"between_nm": (0.0, np.nan)}, OutOfRangeError, "must run upwards"),
        ({"angle_deg": 90.0}, OutOfRangeError, "is not from 0 to 90"),
        ({"seed": -1}, OutOfRangeError, "the seed is -1"),
        ({"film": "TiO"}, InputError, "TiO"),
        ({"model": "tauc-lorentz", "film": "Au"}, OutOfRangeError, "cannot follow the data of Au"),
    ],
)
def test_what_makes_no_sense_is_refused(change, error, message):
    arguments = {"film": "TiO2", "on": "Ti", "spectrum": measured("Ti")} | change
    with pytest.raises(error, match=message):
        fit_spectrum(**arguments)


@pytest.mark.slow
def test_intervals_hold_what_they_claim_on_a_small_sample():
    pairs = list_film_models(("SiO2",), "Si(schinke2015)")
    worlds, _ = list_forward_models(
        pairs,
        WAVELENGTH_NM,
        kind="reflectance",
        model="auto",
        between_nm=(20.0, 800.0),
        roughness=True,
        angle_deg=0.0,
    )
    found = tally(worlds, worlds, WAVELENGTH_NM, "one percent", 30, seed=1)
    # Of 30 draws at 90 %, fewer than 23 would come about once in a hundred times.
    assert found.covered.sum() >= 23
    assert found.n_covered.sum() >= 23
    assert np.median(np.abs(found.error_nm)) < 6.0
