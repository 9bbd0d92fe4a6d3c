"""What is to be minded about a layer: every remark follows from what the layer needs."""

import pytest

from oxhue.optics.deposition.geometry import Piece, Placement, Source
from oxhue.optics.deposition.residual_gas import Chamber
from oxhue.optics.deposition.setup import Heater, Setup
from oxhue.optics.films.materials.catalogue import find_entry
from oxhue.optics.run_sheet.needs import needs_of, remarks_on

VACUUM = Chamber(1e-6)


def minded(name, kind="boat", rate_nm_s=1.0, distance_mm=300.0, **heater):
    setup = Setup(Source(kind), Placement(distance_mm), Piece(50.0, 50.0), Heater(**heater))
    entry = find_entry(name)
    needs = needs_of(entry, 50.0, rate_nm_s, setup, VACUUM, {})
    return needs, "\n".join(remarks_on(entry, name, needs, setup, VACUUM))


@pytest.mark.parametrize(
    ("name", "state"), [("Al", "Al is molten at"), ("Cr", "Cr sublimes at"), ("Mg", "Mg sublimes")]
)
def test_whether_the_charge_melts_before_it_evaporates(name, state):
    needs, said = minded(name)
    assert state in said
    molten = needs.source.temperature_C > find_entry(name).melting_C
    assert molten == ("molten" in state)


def test_a_charge_without_vapour_data_is_set_by_a_trial():
    needs, said = minded("Bi")
    assert needs.source is None
    assert needs.mass_g > 0.0
    assert "no vapour pressure is held for Bi: set its heat by a trial" in said


def test_a_rate_no_heat_gives_is_said_rather_than_refused():
    needs, said = minded("W", rate_nm_s=100.0, distance_mm=1000.0)
    assert needs.source is None
    assert "no temperature below 3727 °C gives this rate from here" in said


def test_estimated_and_extrapolated_heats_are_marked():
    assert "is an estimate, good to about 50 K" in minded("SiO")[1]
    assert "beyond the data of the vapour pressure" in minded("Al", rate_nm_s=300.0)[1]
    plain = minded("Al")[1]
    assert "estimate" not in plain
    assert "beyond the data" not in plain


def test_a_wire_says_what_it_can_and_what_it_cannot():
    needs, hung = minded("Ti", "wire")
    assert "the charge hangs on a W wire" in hung
    assert f"at most {needs.wire.fastest_own_nm_s:.2g} nm/s here, 30 K below" in hung
    needs, beyond = minded("Ta", "wire")
    assert not needs.wire.possible
    assert "a W wire cannot do this: it melts" in beyond
    assert "hangs on" not in beyond
    needs, own = minded("Ti", "wire", rate_nm_s=0.005)
    assert needs.wire.wire == "Ti"
    assert "hangs on" not in own
    needs, used = minded("Al", "wire", current_A=20.0)
    assert f"the wire is at {needs.wire.at_current_C:.0f} °C and gives" in used
    needs, cold = minded("Bi", "wire", current_A=20.0)
    assert "at the current you state" not in cold


def test_a_wire_that_soon_grows_thin_is_said():
    assert "bare, the wire is a tenth thinner after" in minded("Ta", "wire", rate_nm_s=0.3)[1]
    assert "bare, the wire" not in minded("Al", "wire")[1]
