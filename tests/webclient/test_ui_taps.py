"""How many times the grower touches the screen for what is done most; each touch of the hand counts, a scan as one."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from playwright.sync_api import BrowserContext, Locator, expect

from server import ids
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Walk, plant


class Hand(Walk):
    """A walk whose touches are counted; a number typed on the keypad is one."""

    taps = 0

    def tap(self, what: Locator) -> None:
        what.click()
        self.taps += 1

    def write(self, what: Locator, text: str) -> None:
        what.fill(text)
        self.taps += 1

    def pick(self, what: Locator, value: str) -> None:
        """A list is opened, and one of its lines touched."""
        what.select_option(value)
        self.taps += 2

    def scan(self, code: str) -> None:
        """The camera reads it: held there, nothing is touched; counted as one all the same."""
        self.type_code(code)
        self.taps += 1


@pytest.fixture
def hand(live_server: LiveServer, new_context: Callable[..., BrowserContext]) -> Hand:
    hand = Hand(new_context(AWAY, **PHONE).new_page(), plant(live_server, 15))
    hand.pair()
    return hand


def test_a_fine_tree_takes_three_touches(hand: Hand) -> None:
    hand.tap(hand.page.locator("#scan-key"))
    hand.scan(hand.orchard.trees[0][0])
    hand.tap(hand.page.locator("#as-last-time"))
    expect(hand.page.locator("#slip")).to_contain_text("saved")
    assert hand.taps <= 3


def test_a_full_count_with_a_photo_takes_twelve(hand: Hand, tmp_path: Path) -> None:
    picture = tmp_path / "leaf.jpg"
    Image.new("RGB", (300, 300), (90, 120, 60)).save(picture)
    page = hand.page
    hand.tap(page.locator("#scan-key"))
    hand.scan(hand.orchard.trees[0][0])
    counts = ("leaves_fallen", "leaves_per_shoot", "shoots", "shoot_cm", "fruit_breba", "fruit_main", "damage_percent")
    for name in counts:
        hand.write(page.locator(f"#count-{name}"), "3")
    page.locator("#take-photo").set_input_files(picture)
    hand.taps += 2  # the key, and the camera's own
    hand.tap(page.locator("#save-visit"))
    expect(page.locator("#slip")).to_contain_text("saved")
    assert hand.taps <= 12


def test_moving_fifteen_pots_takes_two_a_pot_and_three(hand: Hand) -> None:
    page = hand.page
    hand.tap(page.locator("#scan-key"))
    hand.go("scan/barrow")
    for at, (tag, _) in enumerate(hand.orchard.trees, 1):
        hand.scan(tag)
        expect(page.locator("#barrow-count")).to_have_text(f"{at} pot{'s' if at > 1 else ''} on the barrow")
    hand.tap(page.get_by_role("link", name="Go on with 15 pots"))
    hand.tap(page.locator("#barrow-move"))
    hand.tap(page.locator("label.key").filter(has_text="Porch"))
    hand.tap(page.locator("#save-deed"))
    expect(page.locator("#slip")).to_contain_text("15 pots moved")
    assert hand.taps <= 2 * 15 + 3


def test_a_new_cutting_on_a_blank_tag_takes_six(hand: Hand) -> None:
    parent = hand.orchard.trees[0][1]
    fig = next(iter(hand.orchard.records("variety")))
    batch = hand.orchard.add("batch", batch="February wood", variety=fig, parent=parent, taken=10)
    hand.sync()
    page = hand.page
    hand.tap(page.locator("#scan-key"))
    hand.scan(ids.new_tag_code())
    hand.pick(page.locator("#tree-batch"), batch)
    hand.tap(page.locator("#save-tree"))
    expect(page.locator("#slip")).to_contain_text("saved")
    assert hand.taps <= 6
    hand.sync()
    (young,) = [one for one in hand.orchard.records("tree").values() if one.get("batch")]
    assert (young["batch"], young["parent"], young["variety"]) == (batch, parent, fig)
