"""A piece sends back what the engine says its stack does, and its slopes are those of its power."""

from __future__ import annotations

import numpy as np
import pytest

from oxhue.optics.films.engine.gradient import coherent_gradient
from oxhue.optics.films.engine.incoherent_gradient import slab_gradient
from oxhue.optics.films.notation import parse_medium, parse_stack
from oxhue.optics.spectrum.sample import Sample, _mix_halves
from oxhue.optics.spectrum.spot import Build

READ_NM = np.arange(400.0, 701.0, 10.0)
D = np.array([0.0, 60.0, 300.0, 1500.0])
ROUGH, MIXED = np.full(D.size, 3.0), np.full(D.size, 8.0)
BASES = ["Ti", "SiO2 300nm / Si", "glass 1mm", "Al 20nm / glass 1mm"]


def film_of(name):
    return parse_medium(name).nk(READ_NM) * (1.0 + 0.02 * np.arange(D.size))[:, None]


def by_engine(piece, film, kind):
    """Power of rough films on a mixed layer, and its slopes to thickness, index, rough, mixed."""
    rough, rough_slope = _mix_halves(film, np.ones(1, dtype=complex))
    touched = piece.lower[0] if piece.lower_nm.size else piece.substrate
    mixed, mixed_slope = _mix_halves(film, touched)
    rest = [np.broadcast_to(row, film.shape) for row in (*piece.lower, piece.substrate)]
    index = np.stack([np.ones_like(film), rough, film, mixed, *rest], axis=1)
    below = np.broadcast_to(piece.lower_nm, (D.size, piece.lower_nm.size))
    layers = np.concatenate([np.stack([ROUGH, D, MIXED], axis=1), below], axis=1)
    light = {"incidence": piece.incidence, "polarization": "mean"}
    R, T = ("front_dR", "front_dT") if piece.slab_nm else ("dR", "dT")
    if piece.slab_nm is None:
        found, skip = coherent_gradient(index, layers, READ_NM, **light), 1
    else:
        air = np.ones((1, READ_NM.size), dtype=complex)
        far = np.concatenate([air, piece.back, piece.substrate[None]]), piece.back_nm
        found, skip = (
            slab_gradient((index, layers), far, piece.slab_nm, wavelength_nm=READ_NM, **light),
            0,
        )
    of = R if kind == "reflectance" else T
    to_d, to_n = getattr(found, f"{of}_dd"), getattr(found, f"{of}_dn")[:, skip:]
    to_index = to_n[:, 1] + rough_slope * to_n[:, 0] + mixed_slope * to_n[:, 2]
    return getattr(found, of[-1]), to_d[:, 1], to_index, to_d[:, 0], to_d[:, 2]


@pytest.mark.parametrize("angle_deg", [0.0, 60.0])
@pytest.mark.parametrize("kind", ["reflectance", "transmittance"])
@pytest.mark.parametrize("base", BASES)
@pytest.mark.parametrize("name", ["TiO2", "Au"])
def test_powers_and_slopes_are_the_engines(name, base, kind, angle_deg):
    piece = Sample.on(parse_stack(base), READ_NM, kind=kind, angle_deg=angle_deg, role="film")
    film, build = film_of(name), Build(D, ROUGH, MIXED)
    power, to_d, to_index, to_rough, to_mixed = by_engine(piece, film, kind)
    found = piece.gradient(film, build)
    np.testing.assert_allclose(piece.powers(film, build), power, atol=1e-12)
    np.testing.assert_allclose(found.power, power, atol=1e-12)
    np.testing.assert_allclose(found.to_thickness, to_d, atol=1e-12)
    np.testing.assert_allclose(found.to_index, to_index, atol=1e-10)
    np.testing.assert_allclose(found.to_rough, to_rough, atol=1e-12)
    np.testing.assert_allclose(found.to_mixed, to_mixed, atol=1e-12)


@pytest.mark.parametrize("role", ["none", "bulk"])
@pytest.mark.parametrize("kind", ["reflectance", "transmittance"])
def test_bare_bases_and_bulk_are_the_engines(role, kind):
    from oxhue.optics.films.solve import solve

    piece = Sample.on(parse_stack("SiO2 300nm / Si"), READ_NM, kind=kind, angle_deg=30.0, role=role)
    film = np.broadcast_to(parse_medium("Au").nk(READ_NM), (2, READ_NM.size))
    found = piece.powers(film, Build(np.zeros(2)))
    due = solve(parse_stack("SiO2 300nm / Si" if role == "none" else "Au"), READ_NM, angle_deg=30.0)
    opaque = role == "bulk" and kind == "transmittance"
    expected = 0.0 if opaque else due.R if kind == "reflectance" else due.T
    np.testing.assert_allclose(found, np.broadcast_to(expected, found.shape), atol=1e-12)


def test_a_sweep_is_what_each_film_sends_back():
    piece = Sample.on(parse_stack("Ti"), READ_NM, kind="reflectance", angle_deg=0.0, role="film")
    film, grid = film_of("TiO2"), np.array([-4.0, 0.0, 30.0, 900.0])
    swept = piece.sweep(film, grid, MIXED)
    for i, own in enumerate(np.maximum(grid, 0.0)):
        each = piece.powers(film, Build(np.full(D.size, own), mixed_nm=MIXED))
        np.testing.assert_allclose(swept[:, i], each, atol=1e-13)


def test_pieces_on_bases_of_their_own_are_those_of_each_base():
    from dataclasses import replace

    one, two = (
        Sample.on(parse_stack(base), READ_NM, kind="reflectance", angle_deg=0.0, role="film")
        for base in ("SiO2 300nm / Si", "SiO2 300nm / Ti")
    )
    both = replace(
        one,
        lower=np.stack([one.lower, two.lower]),
        substrate=np.stack([one.substrate, two.substrate]),
    )
    film = film_of("TiO2")[:2]
    build = Build(np.array([80.0, 700.0]), spread=np.array([0.02, 0.05]))
    found = both.gradient(film, build)
    for i, piece in enumerate((one, two)):
        own = piece.gradient(film[i : i + 1], build.take(np.array([i])))
        np.testing.assert_allclose(found.power[i], own.power[0], atol=1e-13)
        np.testing.assert_allclose(found.to_index[i], own.to_index[0], atol=1e-12)
