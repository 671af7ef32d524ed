"""The sheet of jobs, and the calendar's address: secret, renewable, closed to guesses."""

from __future__ import annotations

import pypdfium2
from icalendar import Calendar

from labels.sheet import JOBS_MAX
from server.ids import new_tag_code
from server.records.database import get_setting
from tests.support.server import Visitor


def test_a_calendar_program_reads_the_jobs_by_the_address_alone(owner: Visitor, helper: Visitor) -> None:
    assert helper.call("POST", "/calendar").status_code == 403
    assert owner.call("GET", "/calendar").json == {"open": False}
    first = owner.call("POST", "/calendar").json["url"]
    path = f"/calendar/{first.rsplit('/', 1)[1]}"
    assert owner.call("GET", "/calendar").json == {"open": True}
    answer = owner.client.get(path)
    assert (answer.status_code, answer.mimetype) == (200, "text/calendar")
    assert Calendar.from_ical(answer.data)["version"] == "2.0"
    owner.stored(owner.change("job", job="Mend the hose", task="other", due_on="2026-05-01"))
    (told,) = Calendar.from_ical(owner.client.get(path).data).walk("VEVENT")
    assert told["summary"] == "Mend the hose", "told as soon as it is home"
    last = {"due_on": "9999-12-31", "put_off_to": "9999-12-31"}
    owner.stored(*[owner.change("job", job=name, task="other", **{name: day}) for name, day in last.items()])
    assert len(Calendar.from_ical(owner.client.get(path).data).walk("VEVENT")) == 2, "one is due, one is put off"
    assert first.rsplit("/", 1)[1].removesuffix(".ics") not in str(get_setting("calendar_hash"))

    second = owner.call("POST", "/calendar").json["url"]
    assert owner.client.get(path).status_code == 404, "a former address opens nothing"
    assert owner.call("DELETE", "/calendar").status_code == 204
    assert owner.client.get(f"/calendar/{second.rsplit('/', 1)[1]}").status_code == 404


def test_sheet_and_calendar_speak_the_language_of_the_phone_that_made_them(owner: Visitor) -> None:
    german = {"Accept-Language": "de", "Leafwalk-Units": "in l C"}
    tree = {"tag": new_tag_code(), "decision": "give_away", "decided_on": "2026-05-01"}
    owner.stored(
        owner.change("tree", **tree), owner.change("job", job="Mend the hose", task="other", due_on="2026-05-01")
    )
    sheet = pypdfium2.PdfDocument(owner.call("GET", "/jobs.pdf?on=2026-05-02", headers=german).data)[0]
    text = sheet.get_textpage().get_text_bounded()
    assert "Abgeben" in text and "Entschieden am 1. Mai 2026." in text and "Mend the hose" in text
    assert "zweite Hände" in text, "the caution too"
    url = owner.call("POST", "/calendar", headers=german).json["url"]
    assert url.endswith(".ics?language=de&units=in+l+C")
    assert owner.client.get(f"/calendar/{url.rsplit('/', 1)[1]}").status_code == 200
    # An address may say what it likes: what is not known is told in English and SI.
    odd = url.rsplit("/", 1)[1].replace("language=de&units=in", "language=xx&units=%00")
    assert owner.client.get(f"/calendar/{odd}").status_code == 200


def test_guesses_at_the_address_are_few(owner: Visitor) -> None:
    owner.call("POST", "/calendar")
    answers = [owner.client.get(f"/calendar/guess{at}.ics").status_code for at in range(12)]
    assert (answers[0], answers[-1]) == (404, 429)


def test_the_sheet_says_what_to_do_on_both_papers(owner: Visitor) -> None:
    owner.stored(
        owner.change("job", job="Mend the <hose>", task="prune", due_on="2026-05-01", note="behind the shed & co")
    )
    for paper, width_pt in (("a4", 595), ("letter", 612)):
        answer = owner.call("GET", f"/jobs.pdf?paper={paper}")
        assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
        page = pypdfium2.PdfDocument(answer.data)[0]
        text = page.get_textpage().get_text_bounded()
        assert round(page.get_width()) == width_pt
        assert "Mend the <hose>" in text and "behind the shed & co" in text and "Blades cut hands" in text
    assert owner.call("GET", "/jobs.pdf?paper=a3").status_code == 422


def test_a_helpers_sheet_is_without_decisions(owner: Visitor, helper: Visitor) -> None:
    card = {"tag": new_tag_code(), "decision": "give_away", "decided_on": "2026-05-01"}
    owner.stored(owner.change("tree", **card), owner.change("job", job="Mend the hose", task="other"))
    texts = []
    for visitor in (owner, helper):
        page = pypdfium2.PdfDocument(visitor.call("GET", "/jobs.pdf?on=2026-05-02").data)[0]
        texts.append(page.get_textpage().get_text_bounded())
        assert "Mend the hose" in texts[-1]
    assert ["Give away" in text for text in texts] == [True, False]


def test_a_sheet_that_would_be_too_long_says_what_it_leaves_out(owner: Visitor) -> None:
    jobs = [owner.change("job", job=f"Job {at:03}", task="other", due_on="2026-05-01") for at in range(JOBS_MAX + 3)]
    for at in range(0, len(jobs), 100):
        owner.stored(*jobs[at : at + 100])
    pages = pypdfium2.PdfDocument(owner.call("GET", "/jobs.pdf").data)
    text = "".join(page.get_textpage().get_text_bounded() for page in pages)
    assert text.count("Job ") == JOBS_MAX
    assert "3 further jobs, due later, are left out" in text
