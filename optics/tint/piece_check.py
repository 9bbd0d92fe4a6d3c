"""Is a test piece's outcome an ordinary one under the fitted law? By simulating such outcomes."""

from __future__ import annotations

import numpy as np

from .._typing import FloatArray
from ..colour.conditions import ViewingConditions
from ..inference.colour_table import STEP_NM, ColourTable
from ..inference.reading import Reading
from ..oxidation.calibration import LawDraws
from ..oxidation.metals import Metal
from .coupon import colour_table, film_share

_OUTCOMES = 199
_FLOOR = 1e-300


def colour_p(
    metal: Metal,
    reading: Reading,
    viewing: ViewingConditions,
    draws: LawDraws,
    thickness_nm: FloatArray,
    rng: np.random.Generator,
) -> float:
    """Share of simulated colours at least as unusual as the one seen, 1/200 to 1.

    Parameters
    ----------
    thickness_nm : ndarray, shape (N,)
        Thicknesses the law predicts for the piece's heat, one for each draw.

    Notes
    -----
    The density of the colour under the predicted films is compared with that of colours simulated
    from them; a word counts as the mean over its region.
    """
    table, prior = colour_table(metal, reading, viewing)
    weight = _row_weight(metal, table, prior.film_names, draws, thickness_nm)
    views = table.view_weight.size
    rows = rng.choice(weight.size, size=_OUTCOMES, p=weight)
    seen = rng.choice(views, size=_OUTCOMES, p=table.view_weight)
    simulated = table.draw(rows * views + seen, rng)
    density = _log_density(table, weight, np.concatenate([simulated, reading.points_lab]))
    own = density[_OUTCOMES:]
    observed = float(np.log(reading.weight @ np.exp(own - own.max())) + own.max())
    return float((1 + np.sum(density[:_OUTCOMES] <= observed)) / (_OUTCOMES + 1))


def thickness_p(
    measured_nm: float, sd_nm: float | None, predicted_nm: FloatArray, rng: np.random.Generator
) -> float:
    """Share of simulated measurements at least as far from the middle as the one made."""
    sd = max(2.0, 0.05 * measured_nm) if sd_nm is None else sd_nm
    drawn = np.log(np.maximum(predicted_nm + sd * rng.standard_normal(predicted_nm.size), 0.1))
    middle = np.median(drawn)
    far = np.abs(drawn - middle) >= abs(np.log(max(measured_nm, 0.1)) - middle)
    return float((1 + far.sum()) / (far.size + 1))


def _row_weight(
    metal: Metal,
    table: ColourTable,
    film_names: tuple[str, ...],
    draws: LawDraws,
    thickness_nm: FloatArray,
) -> FloatArray:
    """Share of each row of the table (J D,) among the films predicted."""
    from ..inference.hypotheses import list_film_models

    pairs = list_film_models(metal.films, metal.on)
    _, share = film_share(metal)
    place = thickness_nm * (1.0 + draws.index_error) / STEP_NM - table.scale_nm[0] / STEP_NM
    column = np.clip(place.round().astype(np.intp), 0, table.scale_nm.size - 1)
    weight = np.zeros((len(pairs), table.scale_nm.size))
    for h, name in enumerate(film_names):
        counts = np.bincount(column[draws.film == h], minlength=table.scale_nm.size)
        for j, pair in enumerate(pairs):
            if pair.film_name == name:
                weight[j] = counts * pair.weight / share[h]
    flat: FloatArray = weight.ravel() / weight.sum()
    return flat


def _log_density(table: ColourTable, weight: FloatArray, readings: FloatArray) -> FloatArray:
    """Log density (N,) of readings under weighted rows."""
    each = table.log_likelihood(readings)[:, :, 0, :].reshape(len(readings), -1)
    likely = weight > 0.0
    peak = each[:, likely].max(axis=1, keepdims=True)
    total = np.exp(each[:, likely] - peak) @ weight[likely]
    return np.asarray(np.log(np.maximum(total, _FLOOR)) + peak[:, 0])
