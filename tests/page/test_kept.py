"""What a room was set to: kept in the address, back after a reload, sent as a link."""

import re

import pytest

from tests.page.chromium import answered, enter, said

pytestmark = pytest.mark.slow  # each waits for a browser and for what it draws


def test_a_room_is_kept_in_the_address_and_restored(tab):
    enter(tab, "thickness")
    tab.get_by_role("button", name="Silica on silicon").click()
    tab.get_by_label("Colour seen, straight on", exact=True).fill("blue")
    tab.keyboard.press("Enter")
    tab.locator("#thickness-answer .lead").wait_for()
    tab.wait_for_url("**/#thickness?*thickness-seen=blue*")
    link, lead = tab.url, said(tab, "#thickness-answer .lead")
    enter(tab, "heat")
    tab.get_by_role("slider", name="Temperature", exact=True).fill("500")
    tab.wait_for_url("**/#heat?*heat-at=500*")
    tab.go_back()
    tab.locator("#thickness-answer .lead").wait_for()
    answered(tab)
    tab.goto("about:blank")
    tab.goto(link)
    tab.wait_for_selector("body[data-ready]")
    tab.locator("#thickness-answer .lead", has_text=lead).wait_for()
    assert tab.locator("#thickness-film").input_value() == "SiO2"


def test_a_link_that_was_cut_or_is_of_elsewhere_leaves_the_room_as_it_is(tab, chrome):
    home, errors = tab.url.partition("#")[0], []
    answered(tab)
    for rest in ("deposit?wanted=%5B%5B%22R", "look?gone-every-stack=1", "heat?asked=none&x=1"):
        other = chrome.new_page()
        other.on("pageerror", lambda error: errors.append(str(error)))
        other.goto(f"{home}#{rest}")
        other.wait_for_selector("body[data-ready]")
        other.locator(f"#{rest.partition('?')[0]}").wait_for()
        other.close()
    assert errors == []


def test_what_was_typed_just_before_a_reload_comes_back(tab):
    enter(tab, "thickness")
    tab.locator("#thickness-starts").wait_for()
    answered(tab)
    tab.evaluate(  # in one go: the address has no time to follow
        """() => {
            const field = document.getElementById("thickness-film");
            field.value = "SiO2";
            field.dispatchEvent(new Event("input", { bubbles: true }));
            location.reload();
        }"""
    )
    tab.wait_for_url("**thickness-film=SiO2*")
    tab.wait_for_selector("body[data-ready]")
    assert tab.locator("#thickness-film").input_value() == "SiO2"


def test_goals_and_test_pieces_come_back_after_a_reload(tab):
    enter(tab, "deposit")
    tab.get_by_role("button", name="No glare").click()
    tab.get_by_label("Share of the light in percent").fill("2")
    tab.wait_for_url(re.compile(r"wanted=.*%3C%22%2C%222%22"))  # less than 2 %
    answered(tab)
    tab.reload()
    tab.wait_for_selector("body[data-ready]")
    assert tab.get_by_label("Share of the light in percent").input_value() == "2"
    assert tab.get_by_role("checkbox", name="MgF2").is_checked() is False
    enter(tab, "heat")
    tab.get_by_label("Piece 2: temperature in °C").fill("430")
    tab.wait_for_url("**pieces=*430*")
    answered(tab)
    tab.reload()
    tab.wait_for_selector("body[data-ready]")
    answered(tab)
    assert tab.get_by_label("Piece 1: temperature in °C").input_value() == "430"
