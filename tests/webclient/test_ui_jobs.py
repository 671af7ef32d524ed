"""Jobs, lessons and cuttings on the phone: entered, done with the work they stand for, put off, told again."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import datetime, timedelta

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE, Walk, now, plant

TODAY = datetime.now().astimezone().date()


@pytest.fixture
def walk(live_server: LiveServer, new_context: Callable[..., BrowserContext]) -> Walk:
    orchard = plant(live_server, 2)
    overloaded = orchard.trees[0][1]
    fruit = [
        orchard.new("observation", tree=overloaded, seen_at=now(days), leaves=40, fruit_breba=0, fruit_main=60)
        for days in (2, 1, 0.1)
    ]
    orchard.sync(fruit)
    return Walk(new_context(AWAY, **PHONE).new_page(), orchard).pair()


def test_thinning_is_done_from_the_card_with_the_work_noted_and_taken_back(walk: Walk) -> None:
    page = walk.page
    expect(page.get_by_text("1 job is open")).to_be_visible()
    walk.open_tree(0)
    page.locator("#jobs-here > summary").click()
    page.locator("#jobs-here").get_by_role("button", name="Done").click()
    expect(page.locator("#slip")).to_contain_text("Done.")
    expect(page.locator("#jobs-here")).to_have_count(0)
    walk.sync()
    (work,) = walk.orchard.records("work").values()
    assert (work["task"], work["tree"], work["amount"] > 30) == ("thin_main", walk.orchard.trees[0][1], True)
    walk.go("jobs")
    expect(page.get_by_text("Nothing is to be done")).to_be_visible()


def test_a_job_of_ones_own_is_put_off_without_signal_and_comes_back(walk: Walk) -> None:
    page = walk.page
    walk.go("edit/job/new")
    page.locator("#job-job").fill("Mend the hose")
    page.locator("#job-task").select_option("other")
    page.locator("#job-due_on").fill((TODAY - timedelta(days=1)).isoformat())
    walk.save_card()
    expect(page.get_by_role("heading", name="Overdue")).to_be_visible()
    page.context.set_offline(True)
    mine = page.get_by_role("article").filter(has_text="Mend the hose")
    mine.get_by_role("button", name="In three days").click()
    expect(mine).to_have_count(0)
    page.locator("#undo").click()
    expect(mine).to_be_visible()
    mine.get_by_role("button", name="Drop").click()
    expect(mine).to_have_count(0)
    page.context.set_offline(False)
    walk.sync()
    (job,) = [one for one in walk.orchard.records("job").values() if one["job"] == "Mend the hose"]
    assert (job["dropped"], "put_off_to" in job) == (True, False)


def noted(walk: Walk, *titles: str) -> None:
    """Jobs of one's own, all due today."""
    today = TODAY.isoformat()
    walk.orchard.sync([walk.orchard.new("job", job=title, task="other", due_on=today) for title in titles])
    walk.sync()
    walk.go("jobs")


@pytest.mark.parametrize(("key", "days"), [("In three days", 3), ("Tomorrow", 1), ("In a week", 7), (None, 40)])
def test_a_job_is_put_off_to_the_chosen_day(walk: Walk, key: str | None, days: int) -> None:
    page, until = walk.page, (TODAY + timedelta(days=days)).isoformat()
    noted(walk, "Mend the hose", "Sweep the porch")
    mine = page.get_by_role("article").filter(has_text="Mend the hose")
    if key != "In three days":
        mine.get_by_text("Another day").click()
    if key is None:
        mine.get_by_label("Until this day").fill(until)
    mine.get_by_role("button", name=key or "Put off", exact=True).click()
    expect(mine).to_have_count(0)
    expect(page.locator("#slip")).to_contain_text("Put off to ")
    # What was open on it does not pass to its neighbour.
    expect(page.get_by_role("article").filter(has_text="Sweep the porch").get_by_label("Until this day")).to_be_hidden()
    walk.sync()
    put_off = {job["job"]: job.get("put_off_to") for job in walk.orchard.records("job").values()}
    assert (put_off["Mend the hose"], put_off["Sweep the porch"]) == (until, None)
    assert "Mend the hose" not in [job["title"] for job in walk.orchard.ask("GET", "/overview")["tasks"]]


def test_a_day_that_is_no_later_day_puts_nothing_off(walk: Walk) -> None:
    noted(walk, "Mend the hose")
    mine = walk.page.get_by_role("article").filter(has_text="Mend the hose")
    mine.get_by_text("Another day").click()
    for day in ("", TODAY.isoformat(), (TODAY + timedelta(days=400)).isoformat()):
        mine.get_by_label("Until this day").fill(day)
        mine.get_by_role("button", name="Put off", exact=True).click()
        assert mine.get_by_label("Until this day").evaluate("(one) => one.matches(':user-invalid, :invalid')")
        expect(mine).to_be_visible()
    walk.sync()
    (job,) = walk.orchard.records("job").values()
    assert "put_off_to" not in job


def test_the_calendar_gets_an_address_once(walk: Walk) -> None:
    walk.go("calendar")
    walk.page.locator("#calendar-make").click()
    expect(walk.page.locator("#calendar-url")).to_have_value(re.compile(r"/calendar/[\w-]{32}\.ics$"))


def test_a_lesson_comes_back_on_its_day_until_it_is_heeded(walk: Walk) -> None:
    page = walk.page
    walk.go(f"edit/lesson/new/{walk.orchard.trees[0][1]}")
    page.locator("#lesson-lesson").fill("Brebas off before the move out")
    page.locator("#lesson-on_day").fill("13-45")
    page.locator("#save-card").click()
    expect(page.locator("#lesson-on_day-wrong")).to_contain_text("month and day")
    page.locator("#lesson-on_day").fill(TODAY.strftime("%m-%d"))
    walk.save_card()
    walk.pause()
    walk.sync()
    walk.go("now")
    expect(page.locator("#learnt")).to_contain_text("Brebas off", timeout=30_000)
    page.locator("#learnt").get_by_role("button", name="Heeded").click()
    expect(page.locator("#learnt")).to_have_count(0)
    walk.sync()
    (lesson,) = walk.orchard.records("lesson").values()
    assert (lesson["tree"], lesson["heeded_on"]) == (walk.orchard.trees[0][1], TODAY.isoformat())


def test_cuttings_are_counted_with_what_can_be_said(walk: Walk) -> None:
    page, (tag, tree) = walk.page, walk.orchard.trees[0]
    walk.go(f"edit/batch/new/{tree}")
    page.locator("#batch-batch").fill("February wood")
    for field, count in (("taken", "10"), ("rooted", "7"), ("failed", "3")):
        page.locator(f"#batch-{field}").fill(count)
    walk.save_card()
    walk.go("cuttings")
    row = page.get_by_role("link", name="February wood")
    expect(row).to_contain_text(f"from {tag[:3]} {tag[3:]}")
    expect(row).to_contain_text("7 of 10 rooted: between")
    expect(page.get_by_text("plant passport")).to_be_visible()


def test_what_can_be_shared_is_fetched_and_passports_are_brought_in(walk: Walk) -> None:
    page, tag = walk.page, walk.orchard.trees[0][0]
    walk.go("cuttings")
    fetched = {}
    for key in ("List to share", "Passports of your trees"):
        with page.expect_download() as download:
            page.get_by_role("button", name=key).click()
        fetched[download.value.suggested_filename] = download.value.path().read_bytes()
    assert fetched["offers.pdf"].startswith(b"%PDF")
    assert tag.encode() in fetched["passports.csv"]
    other = "ACCENUMB,ACCENAME,CROPNAME\nOF 7,Millrace Black,fig\n"
    take = page.get_by_label("Bring in passports")
    take.set_input_files({"name": "theirs.csv", "mimeType": "text/csv", "buffer": other.encode()})
    expect(page.get_by_text("trees: 1 new, 0 changed, 0 unchanged")).to_be_visible()
    walk.go("varieties")
    expect(page.get_by_text("Millrace Black")).to_be_visible()


@pytest.mark.parametrize(("rooted", "taken", "low", "high"), [(7, 10, 44, 87), (0, 10, 0, 21), (19, 20, 80, 99)])
def test_the_share_that_roots_has_its_interval(page: Page, rooted: int, taken: int, low: int, high: int) -> None:
    # Wilson's interval at 90 %, as statsmodels' proportion_confint(method="wilson") gives it.
    found = page.evaluate(
        "async ([rooted, taken]) => (await import('/ui/screens/plans.js')).rootedRange(rooted, taken)", [rooted, taken]
    )
    assert (found["low"], found["high"]) == (low, high)


def test_a_lesson_of_a_task_is_told_where_that_work_is_chosen(walk: Walk) -> None:
    page, trees = walk.page, walk.orchard.trees
    told = walk.orchard.new("lesson", lesson="Leave two fruits on each shoot", task="thin_main", tree=trees[0][1])
    elsewhere = walk.orchard.new("lesson", lesson="Never in rain", task="prune")
    walk.orchard.sync([told, elsewhere])
    walk.sync()
    walk.go("jobs")
    expect(page.locator(".learnt")).to_have_text("Learnt before Leave two fruits on each shoot")
    walk.go(f"tree/{trees[0][1]}/work")
    expect(page.locator(".learnt")).to_have_count(0)
    page.locator("#work-task").select_option("thin_main")
    expect(page.locator(".learnt")).to_contain_text("Leave two fruits")
    walk.go(f"tree/{trees[1][1]}/work")
    page.locator("#work-task").select_option("thin_main")
    expect(page.locator(".learnt")).to_have_count(0)
    page.locator("#work-task").select_option("prune")
    expect(page.locator(".learnt")).to_contain_text("Never in rain")
