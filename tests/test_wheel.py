"""The wheel: what an installation without a checkout serves, file by file."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path
from typing import Any

import pytest

ROOT = Path(__file__).parent.parent
ASK = """
import json, sys
from pathlib import Path
import server
from server.app import create_app
from server.config import Config
client = create_app(Config(home=Path(sys.argv[1]))).test_client()
script = client.get("/sw.js").get_data(as_text=True).split("\\n", 1)[0]
listed = json.loads(script.removeprefix("self.PRECACHE = ").rstrip(";"))["files"]
answers = {file: (client.get(file).status_code, len(client.get(file).get_data())) for file in listed}
print(json.dumps({"package": server.__file__, "answers": answers}))
"""


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "pip", "wheel", str(ROOT), "--no-deps", "--no-build-isolation", "-w", str(folder)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    (built,) = folder.glob("*.whl")
    return built


@pytest.fixture(scope="module")
def told(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What an application from the unpacked wheel answers for each file that its service worker keeps."""
    folder = tmp_path_factory.mktemp("installed")
    site = folder / "site"
    zipfile.ZipFile(wheel).extractall(site)
    done = subprocess.run(
        [sys.executable, "-c", ASK, str(folder / "home")],
        cwd=folder,
        env={**os.environ, "PYTHONPATH": str(site)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    answered: dict[str, Any] = json.loads(done.stdout)
    assert answered["package"].startswith(str(site)), "the wheel was asked, not the checkout"
    return answered


def test_an_installed_wheel_serves_every_file_that_works_offline(told: dict[str, Any]) -> None:
    assert {status for status, _ in told["answers"].values()} == {200}, told["answers"]
    assert all(size for _, size in told["answers"].values())
    needed = {"/", "/app.js", "/app.css", "/vendor/lit-html/lit-html.js", "/vendor/idb/index.js"}
    needed |= {"/vendor/zxing-wasm/reader/index.js", "/vendor/zxing-wasm/reader/zxing_reader.wasm"}
    assert needed <= set(told["answers"])


def test_every_module_of_the_client_is_kept_for_offline(wheel: Path, told: dict[str, Any]) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    modules = {f"/{name.removeprefix('webclient/')}" for name in names if name.startswith("webclient/")}
    own = {name for name in modules if name.endswith(".js") and not name.startswith("/vendor/")} - {"/sw.js"}
    assert own
    assert own <= set(told["answers"])


def test_licences_travel_with_what_others_wrote_and_tools_stay_behind(wheel: Path) -> None:
    names = set(zipfile.ZipFile(wheel).namelist())
    for package in ("lit-html", "idb", "zxing-wasm"):
        assert f"webclient/vendor/{package}/LICENSE" in names
    assert {"labels/fonts/LICENSE", "labels/fonts/DejaVuSans.ttf", "server/records/migrations/0001_first.sql"} <= names
    assert "server/wording/de.po" in names
    assert not [name for name in names if "vendor_hook" in name or "node_modules" in name or name.startswith("tests/")]


def test_the_wasm_file_is_of_the_very_version_that_the_code_was_built_with() -> None:
    pinned = json.loads((ROOT / "webclient/package.json").read_text())["dependencies"]["zxing-wasm"]
    locked = json.loads((ROOT / "webclient/package-lock.json").read_text())["packages"]["node_modules/zxing-wasm"]
    assert locked["version"] == pinned
    assert pinned in (ROOT / "webclient/vendor/zxing-wasm/share.js").read_text(encoding="utf-8")
