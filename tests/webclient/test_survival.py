"""What was saved is still there after the browser was killed, and what was not is wholly absent."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from playwright.sync_api import BrowserContext

from tests.support.browser_fixtures import kill_profile
from tests.webclient.files import FileServer
from tests.webclient.phone import TIME, Phone, new_id

LaunchProfile = Callable[..., BrowserContext]


def opened(context: BrowserContext, files: FileServer) -> Phone:
    page = context.new_page()
    page.goto(f"{files.url}/bench")
    return Phone(page)


def test_saves_drafts_and_photos_survive_a_killed_browser(
    launch_profile: LaunchProfile, files: FileServer, tmp_path: Path
) -> None:
    folder, tree = tmp_path / "profile", new_id()
    phone = opened(launch_profile(folder), files)
    sha256 = phone.hold_photo("leaf bytes")
    phone.run("store.drafts.put('observation:x', { leaves: 12 })")
    saved = phone.save("observation", {"tree": tree, "seen_at": TIME, "leaves": 40}, photos=[sha256])
    assert kill_profile(folder) > 0

    phone = opened(launch_profile(folder), files)
    assert phone.fields("observation", saved["record"]) == {"tree": tree, "seen_at": TIME, "leaves": 40}
    assert [change["kind"] for change in phone.waiting()] == ["observation", "photo"]
    assert phone.run("new TextDecoder().decode(await store.photos.bytes(a))", sha256) == "leaf bytes"
    assert phone.run("(await store.drafts.get('observation:x')).value") == {"leaves": 12}
    assert phone.run("store.records.latest(a)", tree)["fields"]["leaves"] == 40
    assert phone.save("observation", {"tree": tree, "seen_at": TIME})["n"] == 3


@pytest.mark.parametrize("told_min", [0, 5, 30])
def test_a_kill_in_the_middle_leaves_each_entry_whole_or_absent(
    launch_profile: LaunchProfile, files: FileServer, tmp_path: Path, told_min: int
) -> None:
    folder, tree = tmp_path / "profile", new_id()
    context = launch_profile(folder)
    phone = opened(context, files)
    told: list[int] = []

    def note(n: int) -> None:
        told.append(n)

    phone.page.expose_function("tellSaved", note)
    phone.page.evaluate(
        """([tree, seen_at]) => { (async () => { for (let i = 0; i < 3000; i += 1) {
          tellSaved((await store.records.save('observation', null, { tree, seen_at, leaves: i })).n); } })(); }""",
        [tree, TIME],
    )
    while len(told) < told_min:
        phone.page.wait_for_timeout(5)
    assert kill_profile(folder) > 0

    phone = opened(launch_profile(folder), files)
    waiting = phone.waiting()
    numbers = [change["n"] for change in waiting]
    assert numbers == list(range(1, len(numbers) + 1))
    assert set(told) <= set(numbers), "what was said to be saved is there"
    views = phone.run("store.records.list('observation')")
    assert {view["id"] for view in views} == {change["record"] for change in waiting}
    assert len(phone.run("store.records.history(a, 1000)", tree)) == len(numbers)
    latest = phone.run("store.records.latest(a)", tree)
    assert (latest is None) == (numbers == [])
