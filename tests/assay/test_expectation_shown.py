"""How an expectation is shown: in words and as swatches."""

import pytest
from matplotlib import pyplot
from matplotlib.colors import to_hex

from oxhue.optics.assay.expectation import expect
from oxhue.optics.assay.plots import plot_expectation


@pytest.fixture(autouse=True)
def no_window():
    yield
    assert pyplot.get_fignums() == []


def test_an_expectation_shows_every_side_that_can_be_seen():
    awaited = expect("Ti 80nm on glass")
    ax = plot_expectation(awaited)
    drawn = [to_hex(patch.get_facecolor()) for patch in ax.patches]
    wanted = [
        str(seen.srgb_hex)
        for one in awaited.expected
        for seen in (one.front, one.back, one.through)
        if seen is not None
    ]
    assert drawn == wanted


def test_what_is_expected_of_a_film_depends_on_what_it_lies_on():
    clear = expect("Ti 80nm on glass").summary()
    assert "optical density" in clear.splitlines()[0]
    assert "per square." in clear.splitlines()[0]
    assert "Oxidised shares are" in clear
    assert "insulates" in clear
    steel = expect("Ti 80nm on steel").summary()
    assert "density" not in steel.splitlines()[0]
    assert "per square" not in steel.splitlines()[0]
    assert "shorted by the base" in steel
    gold = expect("Au 30nm on glass").summary()
    assert "Oxidised shares are" not in gold
