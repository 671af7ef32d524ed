"""What to do next: from findings, from the time of year, from the grower; answered, put off, dropped; as a calendar."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from icalendar import Calendar

from server import ids
from server.records.database import execute, set_setting
from server.reports.calendar import calendar
from server.reports.jobs import Job, all_jobs, jobs, jobs_of
from server.reports.lessons import lessons_due
from tests.reports.growing_records import Yard, at, day, stored
from tests.support.collection import Phone

ON = day(60)


def overloaded(yard: Yard) -> str:
    """A tree with far more fruit than sixty leaves feed."""
    tree = yard.tree()
    for number in (48, 52, 56):
        yard.see(tree, number, leaves=60)
    yard.see(tree, 60, leaves=60, fruit_breba=8, fruit_main=40)
    return tree


def found(on: date = ON) -> list[Job]:
    items: list[Job] = jobs(on).items
    return items


@pytest.mark.usefixtures("collection")
def test_too_much_fruit_asks_for_both_crops_until_each_is_answered() -> None:
    yard = Yard()
    tree = overloaded(yard)
    breba, main = found()
    assert [(job.task, job.amount, job.trees, job.caution) for job in (breba, main)] == [
        ("thin_breba", 8, [tree], "sap"),
        ("thin_main", main.amount, [tree], "sap"),
    ]
    assert breba.due_on == (ON + timedelta(days=1)).isoformat()
    assert (breba.key, main.key) == tuple(job.key for job in found()), "a job keeps its key"

    answer: dict[str, Any] = {"job": breba.title, "task": breba.task, "tree": tree, "key": breba.key}
    change = yard.phone.change("job", **answer, put_off_to=day(62).isoformat())
    stored(yard.phone, change)
    assert [job.task for job in found()] == ["thin_main"]
    answers = [job for job in all_jobs([], day(62)) if job.key == breba.key]
    assert answers == [], "without its finding there is no job"
    stored(yard.phone, yard.phone.change("job", change["record"], put_off_to=None, done_on=ON.isoformat()))
    stored(yard.phone, yard.phone.change("job", job=main.title, task=main.task, tree=tree, key=main.key, dropped=True))
    assert found() == []


@pytest.mark.usefixtures("collection")
def test_thinning_itself_answers_the_job() -> None:
    yard = Yard()
    tree = overloaded(yard)
    work = {"task": "thin_breba", "amount": 8, "done_at": at(ON).replace("T09", "T10")}
    stored(yard.phone, yard.phone.change("work", tree=tree, **work))
    assert [job.task for job in found()] == ["thin_main"]


@pytest.mark.usefixtures("collection")
def test_the_growers_own_entries_stand_among_them_until_they_are_done() -> None:
    phone = Phone("helper's phone", "helper")
    change = phone.change("job", job="Mend the hose", task="other", due_on="2026-05-01", note="behind the shed")
    stored(phone, change)
    (job,) = found(date(2026, 4, 20))
    assert (job.title, job.due_on, job.advice, job.record) == (
        "Mend the hose",
        "2026-05-01",
        "behind the shed",
        job.key,
    )
    stored(phone, phone.change("job", change["record"], done_on="2026-05-02"))
    assert found(date(2026, 5, 2)) == []
    assert len(found(date(2026, 5, 1))) == 1, "asked as of a day before, it was still open"


@pytest.mark.usefixtures("collection")
def test_one_cold_night_in_one_place_is_one_job_for_all_its_trees() -> None:
    cold = {"kind": "cold", "level": "act", "since": "2026-05-02", "night": "2026-05-03", "place": "Long yard"}
    told = [
        {
            **cold,
            "tag": tag,
            "tree": tag.lower(),
            "why": ["Minus two.", why],
            "advice": "Cover it.",
            "caution": "lifting",
        }
        for tag, why in (("AAAAAA", "Figs."), ("BBBBBB", "Citrus."))
    ]
    on = date(2026, 5, 3)
    (job,) = all_jobs([job for found in told for job in jobs_of(found, on)], on)
    assert (job.task, job.due_on, job.tags) == ("shelter", "2026-05-03", ["AAAAAA", "BBBBBB"])
    assert (job.why, job.caution) == (["Minus two.", "Figs.", "Citrus."], "lifting")


@pytest.mark.usefixtures("collection")
def test_the_years_start_asks_for_pots_hard_pruning_and_faded_tags() -> None:
    # Two seasons in a pot, far less growth than the others, ink of five years: common practice, no published source.
    yard = Yard()
    trees = [yard.tree(pot_litres=20, started_on="2020-03-01") for _ in range(6)]
    for number, tree in enumerate(trees):
        yard.see(tree, 150, shoot_cm=6 if number == 0 else 30)
    # Measured in spring only, or planted in that season: nobody knows what it would have grown.
    early = yard.tree(pot_litres=20, started_on="2020-03-01")
    yard.see(early, 60, shoot_cm=6)
    young = yard.tree(pot_litres=20, started_on="2024-05-01")
    yard.see(young, 150, shoot_cm=6)
    trees.append(early)
    stored(yard.phone, yard.phone.change("work", tree=trees[1], done_at=at(day(1)), task="pot_up", amount=30))
    year = ON.year + 1
    asked = {(job.task, job.trees[0]) for job in found(date(year, 2, 10)) if job.task in ("pot_up", "rejuvenate")}
    assert asked == {("rejuvenate", trees[0]), *(("pot_up", tree) for tree in trees[2:])}
    assert not [job for job in found(date(year, 6, 10)) if job.task in ("pot_up", "rejuvenate")]
    printed = int(datetime(year - 5, 3, 1, tzinfo=UTC).timestamp() * 1000)
    execute("UPDATE tag SET printed_ms = ? WHERE tree = ?", (printed, trees[3]))
    assert [job.trees for job in found(date(year, 6, 10)) if job.task == "reprint_tag"] == [[trees[3]]]


@pytest.mark.usefixtures("collection")
def test_in_the_south_the_year_starts_in_july() -> None:
    yard = Yard(latitude=-34.0)
    trees = [yard.tree(pot_litres=20, started_on="2020-03-01") for _ in range(6)]
    for number, tree in enumerate(trees):
        yard.see(tree, 330, shoot_cm=6 if number == 0 else 30)  # in February 2025
    (job,) = [job for job in found(date(2025, 8, 10)) if job.task == "rejuvenate"]
    assert (job.trees, job.due_on) == ([trees[0]], "2025-08-15")
    assert job.why == ["Its shoots grew 6 cm in 2024/2025; 30 cm are usual here."]
    assert {job.due_on for job in found(date(2025, 8, 10)) if job.task == "pot_up"} == {"2025-09-15"}
    assert not [job for job in found(date(2025, 2, 10)) if job.task in ("pot_up", "rejuvenate")]


@pytest.mark.usefixtures("collection")
def test_a_pot_keeps_its_size_when_only_roots_were_pruned() -> None:
    yard = Yard()
    tree = yard.tree(pot_litres=20, started_on="2015-03-01")
    stored(yard.phone, yard.phone.change("work", tree=tree, done_at=at(date(2020, 3, 1)), task="pot_up", amount=70))
    stored(yard.phone, yard.phone.change("work", tree=tree, done_at=at(date(2022, 3, 1)), task="root_prune"))
    assert [job.task for job in found(date(2024, 4, 2))] == ["root_prune"], "70 litres are not carried to a larger pot"


@pytest.mark.usefixtures("collection")
def test_a_job_at_a_place_names_the_trees_that_stand_there_now() -> None:
    yard = Yard()
    stays, gone = yard.tree(), yard.tree()
    other = yard.phone.change("place", place="Porch")
    stored(yard.phone, other, yard.phone.change("move", tree=gone, moved_at=at(day(3)), to_place=other["record"]))
    stored(yard.phone, yard.phone.change("job", job="Net against birds", task="other", place=yard.place))
    (job,) = [job for job in found(day(10)) if job.task == "other"]
    assert (job.place, job.trees) == ("Long yard", [stays])


@pytest.mark.usefixtures("collection")
def test_what_was_decided_about_trees_becomes_jobs_until_they_are_gone() -> None:
    yard = Yard()
    given, kept, other = yard.tree(), yard.tree(), yard.tree()
    on = date(2025, 11, 20)
    decided = {"decided_on": "2025-11-10"}
    for tree, decision in ((given, "give_away"), (kept, "keep"), (other, "give_away")):
        stored(yard.phone, yard.phone.change("tree", tree, decision=decision, **decided))
    (away,) = found(on)
    assert (away.task, away.title, away.trees) == ("other", "Give away: Lanternfoot", sorted_by_tag(given, other))
    assert found(date(2025, 11, 9)) == [], "asked as of the day before, nothing was decided"
    # A tag that tells the standing is printed again once that has changed.
    set_setting("tag_extra", ["standing"])
    printed = int(datetime(2025, 3, 1, tzinfo=UTC).timestamp() * 1000)
    execute("UPDATE tag SET printed_ms = ? WHERE tree = ?", (printed, kept))
    assert [(job.task, job.trees) for job in found(on) if job.task == "reprint_tag"] == [("reprint_tag", [kept])]
    for tree in (given, other):
        stored(yard.phone, yard.phone.change("tree", tree, standing="retired"))
    assert [job.task for job in found(on)] == ["reprint_tag"]


def sorted_by_tag(*trees: str) -> list[str]:
    tags = dict(execute("SELECT id, tag FROM tree").fetchall())
    return sorted(trees, key=lambda tree: str(tags[tree]))


def job(**changes: Any) -> Job:
    plain = {
        "task": "other",
        "title": "Mend; the hose, now",
        "level": "watch",
        "due_on": "2026-05-01",
        "why": ["Because " * 20],
    }
    return Job(**{"key": "k1", "advice": "Do it.", "tags": ["4KD7QH"], "trees": [], **plain, **changes})


def test_the_calendar_is_one_that_other_programs_read() -> None:
    # RFC 5545: lines of at most 75 octets ending in CR LF (3.1), an all-day event ends before DTEND (3.6.1), UID and
    # DTSTAMP in each (3.6.1), text with its commas and semicolons escaped (3.3.11).
    stamp = datetime(2026, 5, 3, 8, tzinfo=UTC)
    data = calendar(
        [job(), job(key="k2", due_on=None), job(key="k3", due_on="2026-06-01")], "Höhe", stamp, date(2026, 5, 3)
    )
    lines = data.split(b"\r\n")
    assert max(map(len, lines)) <= 75
    assert lines[-1] == b"" and b"\n" not in data.replace(b"\r\n", b"")
    assert b"SUMMARY:Mend\\; the hose\\, now\\, 4KD7QH" in lines
    read = Calendar.from_ical(data)
    first, later = read.walk("VEVENT")
    assert (first["uid"], later["uid"]) == ("k1@leafwalk.invalid", "k3@leafwalk.invalid")
    assert first["dtstart"].dt == date(2026, 5, 3), "what is overdue stands on today"
    assert (later["dtstart"].dt, later["dtend"].dt) == (date(2026, 6, 1), date(2026, 6, 2))
    assert str(read["x-wr-calname"]) == "Höhe"


def test_an_event_on_the_last_day_of_the_calendar_has_no_end() -> None:
    # RFC 5545, 3.6.1: an event that starts on a DATE and has no end lasts that day.
    data = calendar([job(due_on="9999-12-31")], "", datetime(2026, 5, 3, 8, tzinfo=UTC), date(2026, 5, 3))
    (event,) = Calendar.from_ical(data).walk("VEVENT")
    assert (event["dtstart"].dt, "dtend" in event) == (date(9999, 12, 31), False)


@pytest.mark.usefixtures("collection")
def test_a_lesson_comes_back_at_its_time_until_it_is_heeded() -> None:
    phone = Phone()
    place = phone.change("place", place="Porch")
    by_day = phone.change("lesson", lesson="Brebas off before the move out", on_day="12-30")
    by_heat = phone.change("lesson", lesson="This one wants more heat early", degree_days=300, place=place["record"])
    by_work = phone.change("lesson", lesson="Leave two buds", task="prune")
    stored(phone, place, by_day, by_heat, by_work)
    heat = {place["record"]: 310.0, ids.new_id(): 40.0}

    def due(on: date, sums: dict[str, float]) -> list[str]:
        return [each.id for each in lessons_due(on, sums)]

    assert due(date(2026, 12, 28), {}) == due(date(2027, 1, 10), {}) == [by_day["record"]]
    assert due(date(2026, 12, 20), {}) == due(date(2027, 2, 1), {}) == []
    assert due(date(2026, 6, 1), heat) == [by_heat["record"]]
    assert due(date(2026, 6, 1), {place["record"]: 460.0}) == []
    stored(phone, phone.change("lesson", by_day["record"], heeded_on="2026-12-29"))
    assert due(date(2027, 1, 2), {}) == []
    assert due(date(2027, 12, 30), {}) == [by_day["record"]]
