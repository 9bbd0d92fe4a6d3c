"""The page in Firefox, where the machine has it: every room, a photo, and nothing wider than it."""

import base64

import pytest

from tests.page.chromium import ROOMS
from tests.page.firefox import firefox
from tests.page.test_photos import as_file, rendered

pytestmark = pytest.mark.slow  # each waits for a browser and for what it draws


@pytest.fixture(scope="module")
def tab(address, tmp_path_factory):
    with firefox(tmp_path_factory.mktemp("firefox")) as found:
        found.open(address)
        found.run(
            "window.faults = []; addEventListener('error', e => faults.push(e.message));"
            "addEventListener('unhandledrejection', e => faults.push(String(e.reason)));"
        )
        yield found


@pytest.fixture(autouse=True)
def quiet(tab):
    yield
    assert tab.run("return window.faults.splice(0);") == []


def enter(tab, room):
    tab.run(f"location.hash = '{room}';")
    tab.wait(f"!document.getElementById('{room}').hidden")


def said(tab, selector):
    return tab.run(f"return document.querySelector({selector!r}).innerText;").replace("\u00a0", " ")


def test_a_stack_has_its_colour_and_its_chart_is_read(tab):
    enter(tab, "look")
    tab.wait("document.querySelector('#look-swatches .hex')?.textContent === '#3c4fa1'")
    assert "dark blue" in said(tab, "#look-swatches")
    tab.run(
        "const chart = document.querySelector('#look-chart svg');"
        "chart.dispatchEvent(new KeyboardEvent('keydown', {key: 'Home', bubbles: true}));"
    )
    assert "380 nm: reflected, front" in said(tab, "#look-chart .chart-reading")


def test_a_heat_has_its_colours(tab):
    enter(tab, "heat")
    tab.wait("document.querySelector('#heat-swatch .name')?.textContent === 'bronze'")
    tab.wait("document.getElementById('heat-field').width === 80")


def test_a_photo_is_marked_and_answered(tab):
    enter(tab, "thickness")
    picture = base64.b64encode(as_file(rendered(25.0, 75.0), "JPEG", quality=95)).decode()
    tab.run(
        "document.querySelector('[name=way][value=photo]').click();"
        f"const bytes = Uint8Array.from(atob({picture!r}), one => one.charCodeAt(0));"
        "const file = new File([bytes], 'dial.jpg', {type: 'image/jpeg'});"
        "const held = new DataTransfer(); held.items.add(file);"
        "const input = document.getElementById('photo-file'); input.files = held.files;"
        "input.dispatchEvent(new Event('change'));"
    )
    tab.wait("document.querySelector('.photo img')?.naturalWidth > 0")
    assert "seems to lie at its mark" in said(tab, "#thickness-photo")
    tab.run(
        "const box = document.querySelector('.photo').getBoundingClientRect();"
        "document.querySelector('.photo').dispatchEvent(new MouseEvent('click', {bubbles: true,"
        "clientX: box.left + box.width / 2, clientY: box.top + box.height * 0.62}));"
    )
    tab.wait("document.querySelector('#thickness-answer .lead')?.textContent.includes('1st order')")
    assert tab.run("return document.querySelectorAll('.mark-chips .hex').length;") == 2


@pytest.mark.parametrize("room", ROOMS)
def test_nothing_is_wider_than_the_window(tab, room):
    enter(tab, room)
    for width in (1400, 500):  # Firefox makes no window narrower
        tab.resize(width, 900)
        assert tab.run("return document.documentElement.scrollWidth <= innerWidth;")
