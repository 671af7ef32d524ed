"""The commands as a user runs them: what they print, their exit status, and that refused input changes nothing."""

from __future__ import annotations

import json
import os
import signal
import stat
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable
from pathlib import Path

import psutil
import pytest
import zxingcpp
from PIL import Image

from server.cli_reports import write_files
from server.errors import Refused
from tests.api.test_tags import codes_in
from tests.support.server import LiveServer, run_leafwalk
from tests.tables.conftest import tag_code
from tests.test_bodies import ask

API = "/api/v1"
RESTING_BYTES_MAX = 150_000_000


def test_help_is_there_at_once_and_loads_nothing_heavy() -> None:
    script = (
        "import sys; from server.cli import main; main(['--help'], standalone_mode=False);"
        " print(sorted({'flask', 'numpy', 'scipy', 'PIL', 'reportlab', 'peewee'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_phone_is_paired_seen_and_shut_out(live_server: LiveServer) -> None:
    made = json.loads(live_server.leafwalk("pair", "--role", "helper", "--json").stdout)
    assert set(made) == {"code", "url", "expires_at"}
    assert made["url"] == f"{live_server.url}/#/pair/{made['code']}"
    body = json.dumps({"code": made["code"], "device_name": "Ada's phone"}).encode()
    status, paired = ask(live_server, "POST", f"{API}/pair", body)
    assert (status, paired["role"]) == (201, "helper")
    listed = live_server.leafwalk("devices")
    assert listed.returncode == 0
    assert f"{paired['device']}  helper" in listed.stdout
    assert [each["name"] for each in json.loads(live_server.leafwalk("devices", "--json").stdout)["devices"]] == [
        "Ada's phone"
    ]
    assert live_server.leafwalk("revoke", "Ada's phone").returncode == 0
    assert ask(live_server, "GET", f"{API}/settings", token=paired["token"])[0] == 401
    again = live_server.leafwalk("revoke", "Ada's phone")
    assert (again.returncode, again.stdout) == (1, "")
    assert "leafwalk devices" in again.stderr


def test_pairing_prints_a_code_that_a_camera_reads(live_server: LiveServer) -> None:
    printed = live_server.leafwalk("pair").stdout
    link = next(word for word in printed.split() if word.startswith("http"))
    blocks = [line for line in printed.splitlines() if set(line) <= set("█▀▄ \xa0") and len(line) > 20]
    # Each character is two modules, one above the other; a full block is what the terminal draws bright.
    rows: list[list[bool]] = []
    for line in blocks:
        rows.append([character in "█▀" for character in line])
        rows.append([character in "█▄" for character in line])
    picture = Image.new("L", (len(rows[0]), len(rows)))
    picture.putdata([255 if bright else 0 for row in rows for bright in row])
    (read,) = zxingcpp.read_barcodes(picture.resize((picture.width * 6, picture.height * 6)))
    assert read.text == link


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "latin-1"])
def test_an_output_without_the_characters_of_a_code_names_the_address(
    home: Path, monkeypatch: pytest.MonkeyPatch, encoding: str
) -> None:
    monkeypatch.setenv("PYTHONIOENCODING", encoding)
    done = run_leafwalk(home, "pair")
    assert (done.returncode, done.stderr) == (0, "")
    assert "Open http://127.0.0.1:8617/#/pair/" in done.stdout
    assert done.stdout.splitlines()[-1] == "This terminal lacks the characters to draw it; open the address instead."


def test_characters_that_the_output_lacks_are_written_as_escapes(
    home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "trees.csv").write_text(f"tag,variety\n{tag_code(20_000_001)},Żaba\n", encoding="utf-8")
    monkeypatch.setenv("PYTHONIOENCODING", "cp1252")
    done = run_leafwalk(home, "import", str(tmp_path / "trees.csv"))
    assert (done.returncode, done.stderr) == (0, "")
    assert r"New variety, known by name only: \u017b" in done.stdout


def test_before_the_first_serving_there_is_a_code_but_no_address(home: Path) -> None:
    assert json.loads(run_leafwalk(home, "pair", "--json").stdout)["url"].startswith("http://127.0.0.1:8617/")
    assert "leafwalk serve" in run_leafwalk(home, "pair").stdout


def test_reports_are_one_json_document_or_lines_to_read(home: Path) -> None:
    for name in ("alerts", "trends"):
        done = run_leafwalk(home, name, "--on", "2025-05-03", "--json")
        assert (done.returncode, done.stderr) == (0, ""), name
        report = json.loads(done.stdout)
        assert (report["on"], report["items"]) == ("2025-05-03", []), name
        plain = run_leafwalk(home, name, "--on", "2025-05-03")
        assert plain.returncode == 0
        assert plain.stdout.strip(), name


def test_tags_go_to_a_file_and_no_code_is_printed_twice(home: Path, tmp_path: Path) -> None:
    seen: list[str] = []
    for name in ("first.pdf", "second.pdf"):
        done = run_leafwalk(home, "tags", "--blank", "21", "--out", str(tmp_path / name))
        assert (done.returncode, done.stderr) == (0, "")
        assert "21 tags" in done.stdout
        seen += codes_in((tmp_path / name).read_bytes())
    assert len(set(seen)) == 42


def test_label_printers_get_one_picture_a_tag(home: Path, tmp_path: Path) -> None:
    roll = ("--paper", "roll-50x30-203")
    assert run_leafwalk(home, "tags", "--blank", "1", *roll, "--out", str(tmp_path / "one.png")).returncode == 0
    assert run_leafwalk(home, "tags", "--blank", "3", *roll, "--out", str(tmp_path / "more.png")).returncode == 0
    assert (tmp_path / "one.png").exists()
    assert len(list(tmp_path.glob("more-*.png"))) == 3


def test_of_several_files_none_is_replaced_where_one_is_refused(tmp_path: Path) -> None:
    good = tmp_path / "t-1.png"
    good.write_bytes(b"a good one")
    with pytest.raises(Refused, match="choose another file with --out"):
        write_files([(good, b"new"), (tmp_path / "nowhere" / "t-2.png", b"new")], "--out")
    assert good.read_bytes() == b"a good one"
    assert list(tmp_path.iterdir()) == [good]


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux sets the limits of another process")
def test_a_full_disk_leaves_the_file_that_was_there(tmp_path: Path) -> None:
    """The kernel refuses every byte of a file beyond the limit (setrlimit(2), RLIMIT_FSIZE), as on a full disk."""
    out = tmp_path / "card.pdf"
    out.write_bytes(b"a good one")
    script = "import resource, signal; resource.setrlimit(resource.RLIMIT_FSIZE, (1000, 1000));"
    script += "signal.signal(signal.SIGXFSZ, signal.SIG_IGN); from server.cli import main; main()"
    command = [sys.executable, "-c", script, "card", "--out", str(out)]
    refused = subprocess.run(command, check=False, capture_output=True, text=True)
    assert (refused.returncode, refused.stdout) == (1, "")
    assert "choose another file with --out" in refused.stderr
    assert out.read_bytes() == b"a good one"
    assert list(tmp_path.iterdir()) == [out]
    (tmp_path / "link.pdf").symlink_to(out)
    assert run_leafwalk(tmp_path, "card", "--out", str(tmp_path / "link.pdf")).returncode == 0
    assert out.read_bytes().startswith(b"%PDF")
    assert stat.S_IMODE(out.stat().st_mode) == 0o666 & ~_umask()


def _umask() -> int:
    now = os.umask(0)
    os.umask(now)
    return now


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("tags", "--out", "t.pdf"), "no tag"),
        (("tags", "--blank", "-1", "--out", "t.pdf"), "blank"),
        (("tags", "--blank", "1", "--paper", "papyrus", "--out", "t.pdf"), "papyrus"),
        (("tags", "--blank", "1", "--code-mm", "500", "--out", "t.pdf"), "mm"),
        (("tags", "--blank", "1", "--out", "t.txt"), ".pdf"),
        (("tags", "--blank", "1", "--out", "no/such/folder/t.pdf"), "--out"),
        (("tags", "--place", "Nowhere", "--out", "t.pdf"), "Nowhere"),
        (("revoke", "nobody"), "nobody"),
        (("alerts", "--on", "yesterday"), "2026-05-03"),
        (("alerts", "--on", "9999-12-31"), "9999-12-31"),
        (("trends", "--tag", "ABC"), "six letters"),
        (("trends", "--tag", "00000U"), "tag"),
        (("serve", "--host", "no.such.host.invalid"), "--host"),
    ],
)
def test_refused_input_ends_with_status_1_and_a_sentence(
    arguments: tuple[str, ...], says: str, home: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parent.parent))
    done = run_leafwalk(home, *arguments)
    assert (done.returncode, done.stdout) == (1, "")
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "t.pdf").exists()


@pytest.mark.parametrize(
    "arguments", [("fly",), ("tags",), ("pair", "--role", "king"), ("serve", "--port", "99999"), ("revoke",)]
)
def test_wrong_usage_ends_with_status_2(arguments: tuple[str, ...], home: Path) -> None:
    done = run_leafwalk(home, *arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert "Usage" in done.stderr
    assert not home.exists()


def test_a_home_that_cannot_be_one_is_refused(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x")
    done = run_leafwalk(tmp_path / "file" / "below", "devices")
    assert done.returncode == 1
    assert "--home" in done.stderr
    # Neither the disk nor who may read is mended by a restore.
    (tmp_path / "barred" / "leafwalk.db").mkdir(parents=True)
    barred = run_leafwalk(tmp_path / "barred", "devices").stderr
    assert "check who owns the folder" in barred
    assert "restore" not in barred
    damaged = tmp_path / "damaged"
    damaged.mkdir()
    (damaged / "leafwalk.db").write_text("this is no database, whatever its name says" * 100)
    done = run_leafwalk(damaged, "devices")
    assert done.returncode == 1
    assert "backup" in done.stderr
    assert "Traceback" not in done.stderr


def test_a_home_that_is_made_is_its_owners_alone(tmp_path: Path) -> None:
    assert run_leafwalk(tmp_path / "above" / "home", "devices").returncode == 0
    assert stat.S_IMODE((tmp_path / "above" / "home").stat().st_mode) == 0o700


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_the_server_stops_cleanly_when_told(live_server: LiveServer, number: signal.Signals) -> None:
    live_server.process.send_signal(number)
    assert live_server.process.wait(timeout=10) == 0
    assert live_server.process.stdout is not None
    assert "Traceback" not in live_server.process.stdout.read()


def test_a_port_in_use_is_told_as_such(live_server: LiveServer, tmp_path: Path) -> None:
    port = live_server.url.rsplit(":", 1)[1]
    done = run_leafwalk(tmp_path / "other", "serve", "--port", port)
    assert done.returncode == 1
    assert "--port" in done.stderr


def test_a_server_that_is_killed_comes_back_with_all_it_acknowledged(
    home: Path, launch_server: Callable[[Path], LiveServer]
) -> None:
    server = launch_server(home)
    token = ask(server, "POST", f"{API}/pair", json.dumps({"code": server.pair()}).encode())[1]["token"]
    server.process.kill()
    server.process.wait(timeout=10)
    assert ask(launch_server(home), "GET", f"{API}/settings", token=token)[0] == 200


def test_a_resting_server_is_small(live_server: LiveServer) -> None:
    for path in ("/", "/app.js", "/sw.js"):
        urllib.request.urlopen(live_server.url + path, timeout=10).close()
    time.sleep(0.5)
    used_bytes = psutil.Process(live_server.process.pid).memory_info().rss
    assert used_bytes < RESTING_BYTES_MAX, f"{used_bytes / 1e6:.0f} MB"


def test_degree_day_methods_on_offer_are_those_that_there_are() -> None:
    from server import cli_reports
    from server.analysis import degree_days

    assert (cli_reports.DEGREE_DAY_METHODS, cli_reports.CUTOFFS) == (degree_days.METHODS, degree_days.CUTOFFS)
