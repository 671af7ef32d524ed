"""The main job from a printed tag to a named tree: a real browser, a real server process, a real database.

Install, pair, lose the signal, scan three printed tags through the camera, record, take a photo, move two pots at once,
kill the browser, open it again without signal, find everything, come home, sync. A second browser sees it all, and the
server names the tree that is losing its leaves.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageDraw
from playwright.sync_api import BrowserContext, Page, expect

from tests.journeys.prints import labels_of
from tests.journeys.season import Spring, write_spring
from tests.support.browser_fixtures import kill_profile
from tests.support.camera import fake_camera
from tests.support.server import LiveServer
from tests.webclient.orchard import AWAY, PHONE

SCAN_MS_MAX = 20_000
FALLEN = 21
# Asking home whether it has a photo is answered with 404 when it has not.
ALLOWED = (*AWAY, r"/photos/[0-9a-f]{64}")


@pytest.fixture
def spring(live_server: LiveServer, tmp_path: Path) -> Spring:
    written = write_spring(tmp_path / "spring")
    done = live_server.leafwalk("import", str(written.folder))
    assert done.returncode == 0, done.stderr
    return written


def films_of(server: LiveServer, spring: Spring, folder: Path) -> dict[str, Path]:
    """Print real sheets, and film two trees' tags and a blank one as a hand holds the camera on each; by code."""
    pdf, blank_pdf = folder / "tags.pdf", folder / "blank.pdf"
    for arguments in (("--out", str(pdf)), ("--blank", "3", "--out", str(blank_pdf))):
        done = server.leafwalk("tags", *arguments)
        assert done.returncode == 0, done.stderr
    printed = labels_of(pdf)
    known = spring.tags["South yard"][:2]
    blanks = labels_of(blank_pdf)
    blank = next(code for code in blanks if code not in printed)
    pictures = {code: printed[code] for code in known} | {blank: blanks[blank]}
    return {code: fake_camera([picture], folder / f"{code}.y4m") for code, picture in pictures.items()}


def leaf_photo(path: Path) -> Path:
    picture = Image.new("RGB", (1200, 900), "#75684f")
    drawing = ImageDraw.Draw(picture)
    drawing.ellipse((300, 150, 900, 750), fill="#4d7a35")
    drawing.ellipse((600, 300, 760, 460), fill="#8a5a2b")
    picture.save(path, quality=90)
    return path


def told(server: LiveServer, *arguments: str) -> Any:
    done = server.leafwalk(*arguments, "--json")
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def test_a_round_without_signal_ends_with_the_tree_that_needs_help(
    live_server: LiveServer,
    spring: Spring,
    tmp_path: Path,
    launch_profile: Callable[..., BrowserContext],
    new_context: Callable[..., BrowserContext],
) -> None:
    films = films_of(live_server, spring, tmp_path)
    dropping, fine, blank = films
    assert "leaf_drop" not in [each["kind"] for each in told(live_server, "alerts")["items"]]
    profile = tmp_path / "profile"

    def pick_up(film: Path | None) -> BrowserContext:
        """The phone in hand, out of signal; what was open before is dead."""
        kill_profile(profile)
        context = launch_profile(profile, film=film, allowed=ALLOWED, **PHONE)
        context.set_offline(True)
        return context

    phone = launch_profile(profile, allowed=ALLOWED, **PHONE)
    install_and_pair(phone.pages[0], live_server)
    note_the_drop(scan(pick_up(films[dropping]).pages[0], live_server, dropping), tmp_path)
    page = scan(pick_up(films[fine]).pages[0], live_server, fine)
    page.locator("#as-last-time").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Scan a tag")
    page = scan(pick_up(films[blank]).pages[0], live_server, blank)
    page.locator("#save-tree").click()
    expect(page.locator("#slip")).to_contain_text("saved")
    move_two_at_once(page, spring.tags["South yard"][2:4])
    page.goto(f"{live_server.url}/#/pocket")
    unsent = page.locator("#pocket-line strong").inner_text()
    assert re.match(r"\d+ unsent", unsent), unsent

    phone = pick_up(None)
    page = phone.pages[0]
    page.goto(live_server.url)
    expect(page.locator("#pocket-line strong")).to_have_text(unsent)

    phone.set_offline(False)
    page.goto(f"{live_server.url}/#/pocket")
    page.locator("#sync-now").click()
    expect(page.locator("#pocket-line strong")).to_have_text("All home", timeout=30_000)

    another_browser_sees_it(new_context, live_server, dropping, blank)
    (found,) = [each for each in told(live_server, "alerts")["items"] if each["kind"] == "leaf_drop"]
    assert found["tag"] == dropping
    assert found["loss_percent_per_day"] > found["usual_percent_per_day"]
    assert page_of_findings(page, live_server).get_by_text(f"{dropping[:3]} {dropping[3:]}").count()
    check_home(live_server, spring, tmp_path / "exported", dropping, fine, blank)


def install_and_pair(page: Page, server: LiveServer) -> None:
    page.goto(f"{server.url}/#/pair/{server.pair()}")
    page.get_by_role("button", name="Pair", exact=True).click()
    expect(page.get_by_role("heading", level=1, name="Now")).to_be_visible()
    expect(page.locator("#pocket-line small")).to_contain_text("just now", timeout=30_000)
    page.wait_for_function("navigator.serviceWorker.ready.then((r) => r.active.state === 'activated')")
    page.reload()
    page.wait_for_function("navigator.serviceWorker.controller !== null")


def scan(page: Page, server: LiveServer, tag: str) -> Page:
    """Open the scanner and hold the camera on a tag; its card, or the form of a new tree, opens by itself."""
    page.goto(f"{server.url}/#/scan")
    page.wait_for_url(re.compile(rf"#/(tree/|new/{tag})"), timeout=SCAN_MS_MAX)
    expect(page.locator("body")).to_contain_text(re.compile(rf"{tag[:3]}\s*{tag[3:]}"))
    return page


def note_the_drop(page: Page, folder: Path) -> None:
    page.locator("#count-leaves_fallen").fill(str(FALLEN))
    page.locator("#count-leaves").fill("38")
    page.locator("#take-photo").set_input_files(leaf_photo(folder / "leaf.jpg"))
    expect(page.get_by_alt_text("Photo 1 of this visit")).to_be_visible()
    page.locator("#save-visit").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("Scan a tag")


def move_two_at_once(page: Page, tags: list[str]) -> None:
    page.goto(re.sub(r"#.*", "#/scan/barrow", page.url))
    for tag in tags:
        page.locator("#typed-code").fill(tag)
        page.locator("#open-code").click()
        expect(page.locator("#scan-told")).to_contain_text(f"{tag[:3]} {tag[3:]}")
    page.goto(re.sub(r"#.*", "#/barrow/move", page.url))
    page.get_by_text("Porch", exact=True).click()
    page.locator("#save-deed").click()
    expect(page.locator("#slip")).to_contain_text("moved")


def another_browser_sees_it(
    new_context: Callable[..., BrowserContext], server: LiveServer, dropping: str, blank: str
) -> None:
    page = new_context(AWAY, viewport={"width": 1280, "height": 800}).new_page()
    install_and_pair(page, server)
    page.goto(f"{server.url}/t/{dropping}")
    expect(page.locator("#visit")).to_be_visible()
    expect(page.locator("#count-leaves-last")).to_contain_text("38")
    page.goto(f"{server.url}/t/{blank}")
    expect(page.locator("#visit")).to_be_visible()


def page_of_findings(page: Page, server: LiveServer) -> Page:
    page.goto(f"{server.url}/#/now")
    expect(page.get_by_text("Losing leaves").first).to_be_visible(timeout=15_000)
    return page


def check_home(server: LiveServer, spring: Spring, folder: Path, dropping: str, fine: str, blank: str) -> None:
    """What the commands export is what was entered on the phone."""
    done = server.leafwalk("export", str(folder))
    assert done.returncode == 0, done.stderr
    seen = (folder / "observations.csv").read_text(encoding="utf-8")
    moves = (folder / "moves.csv").read_text(encoding="utf-8")
    assert re.search(rf"^{dropping},.*,38,{FALLEN},", seen, re.MULTILINE)
    assert len(re.findall(rf"^{fine},", seen, re.MULTILINE)) == 15
    assert {line.split(",")[0] for line in moves.splitlines()[1:]} == set(spring.tags["South yard"][2:4])
    assert blank in (folder / "trees.csv").read_text(encoding="utf-8")
    assert len(list((folder / "photos").glob("*.jpg"))) == 1
