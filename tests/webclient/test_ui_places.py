"""The order of a walk, set by arrows, by dragging and by scanning; and thermometers read at the start of a round."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from playwright.sync_api import BrowserContext, expect

from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Walk, plant


@pytest.fixture
def walk(live_server: LiveServer, new_context: Callable[..., BrowserContext]) -> Walk:
    # A logger's file that leaves a question open is refused with the question.
    return Walk(new_context((*AWAY, r"422 .*/logger"), **PHONE).new_page(), plant(live_server, 6)).pair()


def order(walk: Walk) -> list[str]:
    """The trees of the list as they stand."""
    found: list[str] = walk.page.locator("[data-tree]").evaluate_all("(rows) => rows.map((row) => row.dataset.tree)")
    return found


def test_the_walking_order_is_set_by_arrow_and_finger_and_rounds_follow_it(walk: Walk) -> None:
    page, yard = walk.page, walk.orchard.places["South yard"]
    walk.go(f"place/{yard}/walk")
    expect(page.locator("[data-tree]")).to_have_count(3)
    first, second, third = order(walk)
    page.get_by_role("button", name="one later").first.click()
    assert order(walk) == [second, first, third]
    handle, target = (page.locator(f"[data-tree='{tree}'] .handle").bounding_box() for tree in (third, second))
    assert handle and target
    page.mouse.move(handle["x"] + 20, handle["y"] + 20)
    page.mouse.down()
    page.mouse.move(target["x"] + 20, target["y"] + 10, steps=12)
    page.mouse.up()
    assert order(walk) == [third, second, first]
    page.locator("#save-walk").click()
    expect(page.locator("#slip")).to_contain_text("The order is kept")
    walk.sync()
    assert walk.orchard.records("place")[yard]["walk"] == [third, second, first]
    walk.go("round")
    page.get_by_role("checkbox", name="South yard").check()
    page.locator("#start-round").click()
    tag = {tree: tag for tag, tree in walk.orchard.trees}[third]
    expect(page.get_by_role("region", name="Next in the walk")).to_contain_text(f"{tag[:3]} {tag[3:]}")


def test_pots_scanned_along_the_bench_come_first_and_a_stray_one_is_told(walk: Walk) -> None:
    page, yard = walk.page, walk.orchard.places["South yard"]
    in_yard = [(tag, tree) for at, (tag, tree) in enumerate(walk.orchard.trees) if at % 2 == 0]
    walk.go(f"scan/walk/{yard}")
    for tag, _ in (in_yard[2], in_yard[0]):
        # The next is typed as soon as the field is free; none is swallowed.
        walk.type_code(tag)
    expect(page.locator("#scan-told")).to_contain_text("2 scanned in order")
    walk.type_code(walk.orchard.trees[1][0])
    expect(page.locator("#scan-wrong")).to_contain_text("does not stand here")
    page.get_by_role("link", name="To the list").click()
    expect(page.locator("[data-tree]")).to_have_count(3)
    assert order(walk)[:2] == [in_yard[2][1], in_yard[0][1]]


def test_thermometers_are_read_at_the_start_of_a_round(walk: Walk) -> None:
    page, porch = walk.page, walk.orchard.places["Porch"]
    walk.go("round")
    page.locator("#start-round").click()
    page.locator("#thermometers summary").click()
    expect(page.locator("#thermometers summary")).to_have_text("2 thermometers are not read today")
    page.get_by_label("Porch: lowest").fill("12")
    page.get_by_label("Porch: highest").fill("4")
    page.locator("#save-thermometers").click()
    expect(page.get_by_text("lies below the lowest")).to_be_visible()
    page.get_by_label("Porch: highest").fill("21,5")
    page.locator("#save-thermometers").click()
    expect(page.locator("#thermometers summary")).to_have_text("One thermometer is not read today")
    walk.sync()
    (reading,) = walk.orchard.records("reading").values()
    today = datetime.now().astimezone().date().isoformat()
    assert reading == {"place": porch, "date": today, "t_min_c": 12, "t_max_c": 21.5}


def test_light_and_cold_of_a_place_stand_there_without_signal(walk: Walk) -> None:
    page, orchard = walk.page, walk.orchard
    yard = orchard.places["South yard"]
    today = datetime.now().astimezone().date()
    for days, low in ((300, -4.0), (3, 1.5), (2, -0.5), (1, 4.0), (-1, -2.5), (-2, 3.0)):
        orchard.add("reading", place=yard, date=str(today - timedelta(days=days)), t_min_c=low, t_max_c=12.0)
    change = orchard.new("place", light_percent=60)
    orchard.sync([{**change, "record": yard}])
    walk.sync()
    page.evaluate("navigator.serviceWorker.ready")
    page.context.set_offline(True)
    walk.go(f"place/{yard}")
    rows = page.locator("#glance li")
    expect(rows).to_have_count(4)
    told = [row.inner_text() for row in rows.all()]
    assert "60 %" in told[0]
    assert "−0.5 °C" in told[1] and "frost" in told[1], "three days ago it was warmer, 300 days are no week"
    assert "−2.5 °C" in told[2] and "frost" in told[2]
    assert told[3].endswith("2") and "of 4 nights" in told[3], "what lies ahead was no night yet"


def test_a_loggers_file_is_brought_in_from_the_place_and_its_questions_are_answered(walk: Walk) -> None:
    page, yard = walk.page, walk.orchard.places["South yard"]
    day = datetime.now().astimezone().date() - timedelta(days=9)
    rows = "".join(f"{day} {hour:02}:00,{40 + hour},{50 + hour}\n" for hour in range(24))
    walk.go(f"place/{yard}")
    take = page.get_by_label("Bring in a logger’s file")
    take.set_input_files({"name": "log.csv", "mimeType": "text/csv", "buffer": b"nothing"})
    expect(page.get_by_text("No line of the file holds a time and a number")).to_be_visible()
    text = f"time,inside,outside\n{rows}"
    take.set_input_files({"name": "log.csv", "mimeType": "text/csv", "buffer": text.encode()})
    page.get_by_role("group", name="Which column is the temperature?").get_by_text("outside").click()
    page.get_by_role("group", name="Celsius or Fahrenheit?").get_by_text("°F").click()
    expect(page.get_by_text("1 day new, 0 changed, 0 as before.")).to_be_visible()
    # 50 and 73 °F; the phone fetches what home made of the file.
    row = page.get_by_role("row").filter(has_text="10 °C")
    expect(row).to_contain_text("22.8 °C")
    # It was the wrong column: taken back, the day is gone, and the other column goes in.
    page.locator("main").get_by_role("button", name="Undo").click()
    expect(page.get_by_text("1 taken back.")).to_be_visible()
    expect(row).to_have_count(0)
    take.set_input_files({"name": "log.csv", "mimeType": "text/csv", "buffer": text.encode()})
    page.get_by_role("group", name="Which column is the temperature?").get_by_text("inside").click()
    page.get_by_role("group", name="Celsius or Fahrenheit?").get_by_text("°F").click()
    # 40 and 63 °F.
    expect(page.get_by_role("row").filter(has_text="4.4 °C")).to_contain_text("17.2 °C")
    page.context.set_offline(True)
    take.set_input_files({"name": "log.csv", "mimeType": "text/csv", "buffer": text.encode()})
    expect(page.locator("main .wrong").filter(has_text="reach")).to_be_visible()
