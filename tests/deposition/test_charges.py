"""What materials are held in when they are evaporated."""

import tomllib
from importlib.resources import files

from oxhue.optics.deposition.charges import charge_remarks
from oxhue.optics.films.materials.catalogue import find_entry


def test_every_remark_is_about_a_known_material():
    text = files("oxhue.optics.deposition").joinpath("charges.toml").read_text("utf-8")
    for name in tomllib.loads(text):
        assert find_entry(name).name == name
        assert charge_remarks(name).holder
    assert "zinc selenide" in charge_remarks("ZnSe").hazard
