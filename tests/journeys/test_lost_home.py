"""The server's computer is lost a day after the backup: a phone brings home what the backup lacks, photos and all."""

from __future__ import annotations

import base64
import shutil
from collections.abc import Callable
from pathlib import Path

from playwright.sync_api import BrowserContext, Page, expect

from server import ids
from tests.api.test_photos import jpeg
from tests.journeys.test_main_job import ALLOWED, install_and_pair
from tests.support.server import LiveServer, run_leafwalk, stop_server

SAVE = """async ([edits, photo]) => {
  const { openStore } = await import('/store/open.js');
  const store = await openStore();
  const photos = [];
  if (photo) {
    const bytes = Uint8Array.from(atob(photo), (character) => character.charCodeAt(0)).buffer;
    const digest = new Uint8Array(await crypto.subtle.digest('SHA-256', bytes));
    const sha256 = Array.from(digest, (byte) => byte.toString(16).padStart(2, '0')).join('');
    await store.photos.hold({ bytes, sha256, type: 'image/jpeg', taken_at: '2026-05-03T09:14:00+02:00' });
    photos.push(sha256);
  }
  await store.records.saveAll(edits.map((edit, i) => ({ ...edit, photos: i === edits.length - 1 ? photos : [] })));
  store.close();
}"""


def save(page: Page, *edits: tuple[str, str, dict[str, object]], photo: bytes | None = None) -> None:
    told = [{"kind": kind, "record": record, "set": fields} for kind, record, fields in edits]
    page.evaluate(SAVE, [told, None if photo is None else base64.b64encode(photo).decode()])


def send_home(page: Page, server: LiveServer) -> None:
    page.goto(f"{server.url}/#/pocket")
    page.locator("#sync-now").click()
    expect(page.locator("#pocket-line strong")).to_have_text("All home", timeout=30_000)


def exported(server: LiveServer, folder: Path) -> dict[str, bytes]:
    done = server.leafwalk("export", str(folder))
    assert done.returncode == 0, done.stderr
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_what_came_after_the_backup_comes_home_again(
    home: Path,
    tmp_path: Path,
    launch_server: Callable[..., LiveServer],
    new_context: Callable[..., BrowserContext],
) -> None:
    server = launch_server(home)
    page = new_context(ALLOWED).new_page()
    install_and_pair(page, server)
    variety, tree, visit = ids.new_id(), ids.new_id(), ids.new_id()
    save(page, ("variety", variety, {"variety": "Early Violet"}))
    send_home(page, server)
    backup = tmp_path / "backup.zip"
    assert server.leafwalk("backup", str(backup)).returncode == 0

    seen = {"tree": tree, "seen_at": "2026-05-03T09:14:00+02:00", "leaves": 27}
    save(
        page,
        ("variety", variety, {"note": "ripens in August"}),
        ("tree", tree, {"tag": ids.new_tag_code(), "variety": variety}),
        ("observation", visit, seen),
        photo=jpeg(400, 300),
    )
    send_home(page, server)
    before = exported(server, tmp_path / "before")
    assert len([name for name in before if name.endswith(".jpg")]) == 1

    port = int(server.url.rsplit(":", 1)[1])
    stop_server(server.process)
    shutil.rmtree(home)
    save(page, ("observation", visit, {"leaves": 28}))
    done = run_leafwalk(home, "restore", str(backup))
    assert done.returncode == 0, done.stderr
    server = launch_server(home, port)
    lost = exported(server, tmp_path / "lost")
    assert b",27," not in lost["observations.csv"]

    send_home(page, server)
    after = exported(server, tmp_path / "after")
    assert set(after) == set(before)
    changed = {name for name in before if after[name] != before[name]}
    assert changed == {"observations.csv"}
    assert after["observations.csv"] == before["observations.csv"].replace(b",27,", b",28,")
    looked = server.leafwalk("check")
    assert looked.stdout.splitlines()[-1] == "Nothing is wrong."
