"""The engine against a home that drops answers, shuts phones out, is restored, is slow, or talks nonsense."""

from __future__ import annotations

import itertools
import time
from collections.abc import Callable
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page

from tests.support.server import LiveServer
from tests.webclient.files import BENCH_PAGE, Answer, FileServer, Request
from tests.webclient.home import FakeHome
from tests.webclient.phone import TIME, Phone, new_id

START = """async ([wait_ms_max, clock_speed]) => {
  const [{ createEngine }, { createTransport }] = await Promise.all([
    import('/sync/engine.js'), import('/sync/transport.js')]);
  const token = async () => (await store.settings.get('pairing'))?.token ?? null;
  const clock = { now: () => Date.now() * clock_speed, setTimeout: (...told) => setTimeout(...told),
    clearTimeout: (timer) => clearTimeout(timer), random: Math.random };
  window.engine = createEngine({ store, clock, transport: createTransport({ token, wait_ms_max }) });
  window.states = [];
  engine.subscribe((state) => states.push(state.phase));
}"""

DRAW_AND_HOLD = """(async () => {
  const canvas = new OffscreenCanvas(400, 300);
  canvas.getContext('2d').fillRect(50, 50, 100, 200);
  const bytes = await (await canvas.convertToBlob({ type: 'image/jpeg' })).arrayBuffer();
  const sha256 = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes)).reduce(
    (text, byte) => text + byte.toString(16).padStart(2, '0'), '');
  await store.photos.hold({ bytes, sha256, type: 'image/jpeg', taken_at: '2026-05-03T09:14:00+02:00' });
  return sha256;
})()"""


class SyncingPhone(Phone):
    """A phone with an engine."""

    def __init__(self, page: Page, wait_ms_max: int = 5000, clock_speed: int = 1) -> None:
        super().__init__(page)
        page.evaluate(START, [wait_ms_max, clock_speed])

    def pair(self) -> dict[str, Any]:
        return self.run("engine.pair('12345678', 'Test phone')")

    def sync(self) -> dict[str, Any]:
        return self.run("engine.syncNow()")

    def variety(self, name: str) -> dict[str, Any]:
        return self.save("variety", {"variety": name})


@pytest.fixture
def fake(files: FileServer) -> FakeHome:
    return FakeHome(files)


@pytest.fixture
def context(new_context: Callable[..., BrowserContext]) -> BrowserContext:
    # Browsers report every failed request; failing is what these homes do.
    return new_context(allowed=["Failed to load resource"])


@pytest.fixture
def phone(page: Page, fake: FakeHome) -> SyncingPhone:
    phone = SyncingPhone(page)
    assert phone.pair()["phase"] == "idle"
    return phone


def only_sync(answer: Answer) -> Callable[[Request], Answer | None]:
    return lambda request: answer if request.path == "/api/v1/sync" else None


class TestExchange:
    def test_what_was_saved_goes_home_and_what_is_new_comes(self, phone: SyncingPhone, fake: FakeHome) -> None:
        phone.variety("Early Violet")
        fake.log.append({"kind": "place", "id": new_id(), "fields": {"place": "Yard"}})
        state = phone.sync()
        assert (state["phase"], state["pocket"]["unsent"], state["progress"]["sent"]) == ("idle", 0, 1)
        assert state["last_contact_ms"] > 0
        assert [v["fields"]["place"] for v in phone.run("store.records.list('place')")] == ["Yard"]
        assert state["pairing"] == {"device": "d1", "role": "owner", "collection": "Test"}
        assert "secret" not in str(state)

    def test_at_most_500_changes_a_request_in_the_order_of_their_numbers(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        for start in range(0, 1200, 400):
            edits = [{"kind": "variety", "set": {"variety": f"Seedling {start + i}"}} for i in range(400)]
            phone.run("store.records.saveAll(a)", edits)
        fake.requests.clear()
        phone.sync()
        assert [len(batch) for batch in fake.sent()] == [500, 500, 200]
        assert [change["n"] for batch in fake.sent() for change in batch] == list(range(1, 1201))

    def test_pages_are_pulled_until_there_is_no_more(self, phone: SyncingPhone, fake: FakeHome) -> None:
        fake.page_records_max = 7
        fake.log += [{"kind": "place", "id": new_id(), "fields": {"place": f"Bed {i}"}} for i in range(40)]
        assert phone.sync()["progress"]["pulled"] == 40
        assert phone.run("store.records.count('place')") == 40

    def test_the_overview_is_kept_and_not_sent_twice(self, phone: SyncingPhone, fake: FakeHome) -> None:
        fake.overview = {"alerts": [{"tag": "X"}], "trends": []}
        phone.variety("New")
        phone.sync()
        assert phone.run("(await store.settings.get('overview')).document") == fake.overview
        answers = []
        fake.after = lambda request, answer: answers.append((request.path, answer.status)) or answer
        phone.sync()
        assert ("/api/v1/overview", 304) in answers
        assert phone.run("(await store.settings.get('overview')).document") == fake.overview

    def test_a_refused_change_is_parked_and_mended_under_a_new_id(self, phone: SyncingPhone, fake: FakeHome) -> None:
        fake.refuse = lambda change: "Choose another name." if change["set"].get("variety") == "Taken" else None
        phone.variety("Good")
        bad = phone.variety("Taken")
        state = phone.sync()
        assert (state["phase"], state["pocket"]["unsent"], state["pocket"]["parked"]) == ("idle", 0, 1)
        phone.run("store.outbox.mend(a, { variety: 'Free' })", bad["change"])
        assert phone.sync()["pocket"]["parked"] == 0
        mended = fake.sent()[-1][0]
        assert mended["record"] == bad["record"]
        assert mended["id"] != bad["change"]
        assert mended["set"] == {"variety": "Free"}


class TestFailures:
    def test_an_answer_lost_after_home_kept_it_leads_to_the_same_ids_again(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        names = [phone.variety(f"Seedling {i}")["change"] for i in range(3)]
        fake.requests.clear()
        fake.after = lambda request, answer: Answer(dropped=True) if request.path == "/api/v1/sync" else answer
        state = phone.sync()
        assert (state["phase"], state["pocket"]["unsent"]) == ("offline", 3)
        assert set(fake.changes) == set(names)
        fake.after = lambda request, answer: answer
        assert phone.sync()["pocket"]["unsent"] == 0
        assert {tuple(c["id"] for c in batch) for batch in fake.sent()} == {tuple(names)}
        assert len(fake.sent()) >= 2
        assert len(fake.changes) == 3

    @pytest.mark.parametrize("status", [500, 503, 429, 502])
    def test_a_home_that_is_busy_is_asked_again_later(self, phone: SyncingPhone, fake: FakeHome, status: int) -> None:
        phone.variety("Early")
        fake.before = only_sync(Answer.of({"type": "/problems/failed", "title": "Not now"}, status))
        state = phone.sync()
        assert (state["phase"], state["pocket"]["unsent"], state["problem"]["title"]) == ("busy", 1, "Not now")
        fake.before = lambda request: None
        assert phone.sync()["pocket"]["unsent"] == 0

    def test_a_home_that_is_too_slow_counts_as_away(self, page: Page, fake: FakeHome) -> None:
        phone = SyncingPhone(page, wait_ms_max=300)
        phone.pair()
        phone.variety("Early")
        fake.before = lambda request: time.sleep(1)
        began = time.monotonic()
        assert phone.sync()["phase"] == "offline"
        assert time.monotonic() - began < 5
        fake.before = lambda request: None
        assert phone.sync()["pocket"]["unsent"] == 0

    def test_a_queue_too_large_for_a_weak_network_goes_home_in_parts(self, page: Page, fake: FakeHome) -> None:
        # The time limit of 30 s shortened to 1.5 s, with a clock that makes up for it.
        phone = SyncingPhone(page, wait_ms_max=1500, clock_speed=20)
        phone.pair()
        phone.run("store.records.saveAll(a)", [{"kind": "variety", "set": {"variety": f"V{i}"}} for i in range(300)])
        fake.requests.clear()
        fake.before = lambda r: time.sleep(0.012 * len(r.json["changes"])) if r.path.endswith("/sync") else None
        assert [phone.sync()["phase"] for _ in range(4)] == ["offline", "offline", "offline", "idle"]
        assert [len(batch) for batch in fake.sent()] == [300, 250, 125, 63, 63, 63, 63, 48]
        limits = [request.json["limit"] for request in fake.requests if request.path.endswith("/sync")]
        assert limits[:4] == [2000, 1000, 500, 252], "what is pulled is halved with it"

    def test_a_phone_that_was_long_without_network_soon_sends_as_much_at_once_as_before(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        phone.run("store.records.saveAll(a)", [{"kind": "variety", "set": {"variety": f"V{i}"}} for i in range(400)])
        fake.before = lambda request: Answer(dropped=True)
        for _ in range(10):
            assert phone.sync()["phase"] == "offline"
        fake.requests.clear()
        fake.before = lambda request: None
        assert phone.sync()["phase"] == "idle"
        assert [len(batch) for batch in fake.sent()] == [1, 4, 16, 64, 256, 59]

    def test_without_network_everything_stays_here(self, phone: SyncingPhone, context: BrowserContext) -> None:
        context.set_offline(True)
        phone.variety("Early")
        state = phone.sync()
        assert (state["phase"], state["pocket"]["unsent"]) == ("offline", 1)
        context.set_offline(False)
        assert phone.sync()["pocket"]["unsent"] == 0

    @pytest.mark.parametrize(
        "nonsense",
        [
            Answer(200, b"<html>Sign in to the hotel", {"Content-Type": "text/html"}),
            Answer.of({"hello": "world"}),
            Answer.of({"epoch": "first", "cursor": "1", "more": False, "records": [], "results": []}),
            Answer.of({"epoch": "first", "cursor": "1", "more": False, "records": [{"kind": 3}], "results": []}),
            Answer(403, b"<html>Blocked", {"Content-Type": "text/html"}),
            Answer(401, b"<html>Sign in", {"Content-Type": "text/html"}),
        ],
        ids=["sign-in page", "another service", "no outcome", "no record", "blocked", "401 of another"],
    )
    def test_an_answer_that_is_not_homes_is_not_taken_in(
        self, phone: SyncingPhone, fake: FakeHome, nonsense: Answer
    ) -> None:
        phone.variety("Early")
        fake.before = only_sync(nonsense)
        state = phone.sync()
        assert (state["phase"], state["pocket"]["unsent"]) == ("trouble", 1)
        assert state["problem"]["title"]
        fake.before = lambda request: None
        assert phone.sync()["pocket"]["unsent"] == 0

    def test_a_home_that_promises_more_for_ever_is_not_asked_for_ever(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        cursor = phone.run("store.settings.get('cursor')")
        stuck = {"epoch": "first", "cursor": cursor, "more": True, "records": [], "results": []}
        fake.requests.clear()
        fake.before = only_sync(Answer.of(stuck))
        assert phone.sync()["phase"] == "trouble"
        assert len(fake.sent()) == 1

    def test_one_change_that_spoils_its_whole_request_is_parked_alone(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        for i in range(20):
            phone.variety("Poison" if i == 13 else f"Seedling {i}")
        problem = {"type": "/problems/refused", "title": "The input was refused", "status": 422, "detail": "No."}

        def choke(request: Request) -> Answer | None:
            poisoned = request.path == "/api/v1/sync" and b"Poison" in request.body
            return Answer.of(problem, 422) if poisoned else None

        fake.before = choke
        state = phone.sync()
        assert (state["phase"], state["pocket"]["unsent"], state["pocket"]["parked"]) == ("idle", 0, 1)
        assert phone.run("(await store.outbox.parked())[0].change.set.variety") == "Poison"
        assert len(fake.changes) == 19

    def test_a_home_that_refuses_the_phone_as_such_parks_nothing(self, phone: SyncingPhone, fake: FakeHome) -> None:
        phone.variety("Early")
        problem = {"type": "/problems/refused", "title": "Update the app", "status": 422}
        fake.before = only_sync(Answer.of(problem, 422))
        state = phone.sync()
        assert (state["phase"], state["pocket"]["unsent"], state["pocket"]["parked"]) == ("trouble", 1, 0)


class TestRevoked:
    def test_a_phone_that_is_shut_out_keeps_everything_and_stops_until_it_is_paired_again(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        phone.variety("Sent before")
        phone.sync()
        phone.variety("Written after")
        fake.before = lambda r: None if r.path.endswith("/pair") else Answer.of({"type": "x/token-revoked"}, 401)
        state = phone.sync()
        assert (state["phase"], state["pocket"]["unsent"]) == ("revoked", 1)
        fake.requests.clear()
        assert phone.sync()["phase"] == "revoked"
        assert fake.requests == []
        phone.variety("And still more")
        assert len(phone.run("store.records.list('variety')")) == 3

        phone.page.reload()
        again = SyncingPhone(phone.page)
        assert again.sync()["phase"] == "revoked", "also after a restart"
        fake.before = lambda request: None
        state = again.pair()
        assert (state["phase"], state["pocket"]["unsent"]) == ("idle", 0)
        assert len(fake.changes) == 3

    def test_a_phone_that_was_never_paired_asks_nothing(self, page: Page, fake: FakeHome) -> None:
        phone = SyncingPhone(page)
        phone.variety("Early")
        assert phone.sync()["phase"] == "unpaired"
        assert fake.requests == []

    def test_a_wrong_code_is_told_and_changes_nothing(self, page: Page, fake: FakeHome) -> None:
        phone = SyncingPhone(page)
        problem = {"type": "/problems/wrong-code", "title": "The pairing code does not fit", "status": 403}
        fake.before = lambda request: Answer.of(problem, 403)
        failed = phone.run("engine.pair('00000000', 'Test phone')")
        assert failed["error"] == "refused"
        assert failed["message"] == "The pairing code does not fit"
        assert phone.run("engine.state().phase") == "unpaired"


class TestEpoch:
    def test_a_restored_home_gets_back_what_it_lost(self, phone: SyncingPhone, fake: FakeHome) -> None:
        kept = {"kind": "place", "id": new_id(), "fields": {"place": "Yard"}}
        fake.log.append(kept)
        lost = [phone.variety(f"Seedling {i}")["change"] for i in range(3)]
        fake.log.append({"kind": "place", "id": new_id(), "fields": {"place": "Added after the backup"}})
        phone.sync()
        fake.epoch, fake.changes, fake.log = "second", {}, [kept]
        state = phone.sync()
        assert (state["phase"], state["pocket"]["unsent"]) == ("idle", 0)
        assert list(fake.changes) == lost
        assert [v["fields"]["place"] for v in phone.run("store.records.list('place')")] == ["Yard"]
        assert len(phone.run("store.records.list('variety')")) == 3

    def test_a_home_that_changes_its_epoch_with_every_answer_is_given_up(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        epochs = itertools.count()
        fake.requests.clear()
        fake.before = lambda request: setattr(fake, "epoch", f"epoch {next(epochs)}")
        assert phone.sync()["phase"] == "trouble"
        assert len(fake.sent()) < 10


class TestOverview:
    def test_a_home_that_cannot_make_one_leaves_the_last_and_the_rest_is_done(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        phone.variety("Early")
        problem = {"type": "/problems/failed", "title": "The server failed", "status": 500}
        fake.before = lambda request: Answer.of(problem, 500) if request.path.endswith("/overview") else None
        state = phone.sync()
        assert (state["phase"], state["pocket"]["unsent"], state["problem"]["title"]) == (
            "idle",
            0,
            "The server failed",
        )
        assert phone.run("(await store.settings.get('overview')).document") == fake.overview


class TestPhotos:
    def visit(self, phone: SyncingPhone, *texts: str) -> list[str]:
        prints = [phone.hold_photo(text) for text in texts]
        phone.save("observation", {"tree": new_id(), "seen_at": TIME}, photos=prints)
        return prints

    def test_photos_follow_the_observations_one_by_one(self, phone: SyncingPhone, fake: FakeHome) -> None:
        prints = self.visit(phone, "first leaf", "second leaf")
        fake.requests.clear()
        state = phone.sync()
        assert (state["pocket"]["photos_waiting"], state["progress"]["photos"]) == (0, 2)
        assert fake.photos == {prints[0]: b"first leaf", prints[1]: b"second leaf"}
        asked = [f"{r.method} {r.path.split('/')[3]}" for r in fake.requests]
        assert asked == ["POST sync", *["HEAD photos", "PUT photos", "HEAD photos"] * 2, "GET overview"]

    def test_a_photo_that_home_has_is_not_sent_again(self, phone: SyncingPhone, fake: FakeHome) -> None:
        [sha256] = self.visit(phone, "known leaf")
        fake.photos[sha256] = b"known leaf"
        fake.requests.clear()
        assert phone.sync()["pocket"]["photos_waiting"] == 0
        assert "PUT" not in [request.method for request in fake.requests]

    def test_a_photo_that_home_refuses_is_shown_and_holds_up_no_other(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        prints = self.visit(phone, "not a picture", "a leaf")
        problem = {"type": "/problems/refused", "title": "This is no photo", "status": 422}
        fake.before = lambda r: Answer.of(problem, 422) if (r.method, r.body) == ("PUT", b"not a picture") else None
        state = phone.sync()
        assert (state["phase"], state["pocket"]["photos_waiting"]) == ("idle", 0)
        assert state["pocket"]["photos_refused"] == 1
        assert list(fake.photos) == [prints[1]]
        assert phone.run("(await store.photos.refused())[0].problem.title") == "This is no photo"

    @pytest.mark.parametrize("method", ["HEAD", "PUT"])
    @pytest.mark.parametrize("status", [200, 401, 403])
    def test_a_stranger_s_answer_neither_takes_a_photo_nor_shuts_the_phone_out(
        self, phone: SyncingPhone, fake: FakeHome, method: str, status: int
    ) -> None:
        [sha256] = self.visit(phone, "a leaf")
        sign_in = Answer(status, b"<html>Sign in to the hotel", {"Content-Type": "text/html"})
        fake.before = lambda request: sign_in if request.method == method else None
        state = phone.sync()
        assert (state["phase"], state["pocket"]["photos_waiting"], fake.photos) == ("trouble", 1, {})
        fake.before = lambda request: None
        state = phone.sync()
        assert (state["phase"], state["pocket"]["photos_waiting"]) == ("idle", 0)
        assert fake.photos == {sha256: b"a leaf"}

    def test_home_itself_shuts_the_phone_out_in_the_middle_of_its_photos(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        self.visit(phone, "a leaf")
        fake.before = lambda r: Answer.of({"type": "x/token-revoked"}, 401) if r.method == "HEAD" else None
        state = phone.sync()
        assert (state["phase"], state["pocket"]["photos_waiting"]) == ("revoked", 1)

    def test_a_photo_whose_tag_was_weakened_on_the_way_counts_as_home(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        [sha256] = self.visit(phone, "a leaf")
        fake.before = lambda r: Answer(200, headers={"ETag": f'W/"{sha256}-gzip"'}) if r.method == "HEAD" else None
        assert phone.sync()["pocket"]["photos_waiting"] == 0

    def test_who_asks_for_a_sync_does_not_wait_for_a_photo_that_was_put_off(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        [sha256] = self.visit(phone, "a leaf")
        phone.run("store.photos.markFailed(a, Date.now() + 60000)", sha256)
        phone.run("engine.start()")
        assert phone.summary()["photos_waiting"] == 1, "a run of the engine's own leaves it alone"
        assert phone.sync()["pocket"]["photos_waiting"] == 0

    def test_a_photo_lost_on_the_way_waits_longer_each_time_and_is_never_given_up(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        [sha256] = self.visit(phone, "a leaf")
        fake.before = lambda request: Answer(dropped=True) if request.method == "PUT" else None
        waits = []
        for _ in range(3):
            assert phone.sync()["phase"] == "offline"
            info = phone.run("store.photos.info(a)", sha256)
            waits.append(info["next_try_at_ms"] - phone.run("Date.now()"))
            assert info["state"] == "waiting"
            assert phone.summary()["unsent"] == 0, "the observation is home already"
            phone.run("store.photos.markFailed(a, 0)", sha256)
        assert waits[0] < waits[1] < waits[2]
        fake.before = lambda request: None
        assert phone.sync()["pocket"]["photos_waiting"] == 0
        assert fake.photos == {sha256: b"a leaf"}


class TestDriving:
    def test_a_save_goes_home_by_itself_after_a_rest(self, phone: SyncingPhone, fake: FakeHome) -> None:
        phone.run("(engine.start(), null)")
        phone.page.wait_for_function("() => engine.state().next_try_ms !== null")
        phone.variety("Early")
        phone.variety("Late")
        phone.page.wait_for_function("() => engine.state().phase === 'idle' && engine.state().pocket.unsent === 0")
        assert [len(batch) for batch in fake.sent() if batch] == [2], "the burst went in one request"

    def test_coming_online_and_coming_into_view_wake_the_engine(
        self, phone: SyncingPhone, fake: FakeHome, context: BrowserContext
    ) -> None:
        phone.page.evaluate(
            """async () => { const { watchConnectivity } = await import('/device/connectivity.js');
              await engine.start(watchConnectivity); }"""
        )
        context.set_offline(True)
        phone.variety("Early")
        phone.page.wait_for_function("() => engine.state().phase === 'offline'")
        context.set_offline(False)
        phone.page.wait_for_function("() => engine.state().phase === 'idle' && engine.state().pocket.unsent === 0")
        fake.requests.clear()
        # A run ends with the overview; before it begins, the engine is idle too.
        with phone.page.expect_response("**/overview"):
            phone.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        assert len(fake.sent()) == 1
        phone.run("engine.stop()")
        phone.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
        assert len(fake.sent()) == 1

    def test_failed_runs_rest_longer_each_time(self, phone: SyncingPhone, fake: FakeHome) -> None:
        fake.before = lambda request: Answer(dropped=True)
        phone.run("(engine.start(), null)")
        rests = []
        for _ in range(4):
            phone.sync()
            rests.append(phone.run("engine.state().next_try_ms - Date.now()"))
        # Fifteen seconds doubled for each failure, spread by a fifth; start() was the first.
        for rest, expected in zip(rests, (30_000, 60_000, 120_000, 240_000), strict=True):
            assert 0.75 * expected < rest < 1.25 * expected

    def test_two_tabs_never_send_at_once(
        self, phone: SyncingPhone, fake: FakeHome, context: BrowserContext, files: FileServer
    ) -> None:
        page = context.new_page()
        page.goto(f"{files.url}/bench")
        other = SyncingPhone(page)
        for i in range(10):
            (phone if i % 2 else other).variety(f"Seedling {i}")
        under_way, most = [0], [0]

        def slowly(request: Request) -> None:
            under_way[0] += 1
            most[0] = max(most[0], under_way[0])
            time.sleep(0.05)
            under_way[0] -= 1

        fake.before = slowly
        fake.requests.clear()
        for tab in (phone, other):
            tab.page.evaluate("() => { window.done = engine.syncNow(); }")
        for tab in (phone, other):
            assert tab.page.evaluate("() => done")["phase"] == "idle"
        assert most[0] == 1
        assert [len(batch) for batch in fake.sent() if batch] == [10]

    def test_a_run_asked_for_during_a_run_follows_it_and_takes_what_was_saved_meanwhile(
        self, phone: SyncingPhone, fake: FakeHome
    ) -> None:
        fake.before = lambda request: time.sleep(0.2)
        phone.page.evaluate(
            """async () => {
              const first = engine.syncNow();
              await new Promise((resolve) => setTimeout(resolve, 50));
              await store.records.save('variety', null, { variety: 'Meanwhile' });
              await Promise.all([first, engine.syncNow(), engine.syncNow()]);
            }"""
        )
        assert phone.summary()["unsent"] == 0


def test_phone_and_real_home_understand_each_other(
    live_server: LiveServer, new_context: Callable[..., BrowserContext]
) -> None:
    """The whole wire once with the real server; only the bench page is the test's own."""
    context = new_context(allowed=["404"])
    bench = f"{live_server.url.rstrip('/')}/bench"
    context.route(bench, lambda route: route.fulfill(body=BENCH_PAGE, content_type="text/html"))
    page = context.new_page()
    page.goto(bench)
    phone = SyncingPhone(page)
    state = phone.run("engine.pair(a, 'Test phone')", live_server.pair())
    assert state["phase"] == "idle", state
    variety = phone.variety("Early Violet")
    place = phone.save("place", {"place": "Yard", "cover": "open", "heated": False})
    tree = {"tag": "00001" + "R", "variety": variety["record"], "place": place["record"], "pot_litres": 19}
    tree["tag"] = phone.page.evaluate("import('/core/tagcode.js').then((m) => '00001' + m.checkCharacter('00001'))")
    saved = phone.save("tree", tree)
    phone.save("observation", {"tree": saved["record"], "seen_at": TIME, "leaves": 40, "causes": "sun;wind"})
    bad = phone.save("observation", {"tree": new_id(), "seen_at": TIME, "leaves": 1})
    state = phone.sync()
    assert (state["phase"], state["pocket"]["unsent"], state["pocket"]["parked"]) == ("idle", 0, 1), state
    phone.run("store.outbox.mend(a[0], { tree: a[1] })", [bad["change"], saved["record"]])
    assert phone.sync()["pocket"]["parked"] == 0

    other = context.browser.new_context()
    other.route(bench, lambda route: route.fulfill(body=BENCH_PAGE, content_type="text/html"))
    page = other.new_page()
    page.goto(bench)
    second = SyncingPhone(page)
    second.run("engine.pair(a, 'Second phone')", live_server.pair())
    assert second.fields("tree", saved["record"]) == tree
    assert second.fields("place", place["record"]) == {"place": "Yard", "cover": "open", "heated": False}
    assert len(second.run("store.records.history(a)", saved["record"])) == 2
    other.close()

    sha256 = phone.run(DRAW_AND_HOLD)
    phone.save("tree", {"note": "With a picture"}, saved["record"], photos=[sha256])
    state = phone.sync()
    assert (state["phase"], state["progress"]["photos"], state["pocket"]["photos_waiting"]) == ("idle", 1, 0)
    assert list((live_server.home / "photos").rglob(f"*{sha256}*"))
