"""Backup and restore: what comes back is what there was, a bad file changes nothing, a power cut leaves old or new."""

from __future__ import annotations

import json
import shutil
import stat
import subprocess
import sys
import threading
import time
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from server import home_lock
from server.collection import open_collection
from server.config import Config
from server.errors import Refused, Unauthorised
from server.keeping.backup import back_up
from server.keeping.backup_file import BackupWriter
from server.keeping.checking import check
from server.keeping.restore import restore
from server.records import devices
from server.records.copying import schema_number
from server.records.database import (
    close_database,
    execute,
    get_setting,
    newest_schema,
    open_database,
    read_counter,
    write,
)
from server.records.photo_files import PhotoFolder
from tests.keeping.conftest import SEEN, everything, photograph
from tests.support.collection import Phone, new_postgresql_database
from tests.support.server import LiveServer, run_leafwalk

ROOT = Path(__file__).parents[2]
LEAFWALK = "from server.cli import main; main()"
BACKUPS_MIN, BACKUPS_MAX = 5, 500


def reopened(config: Config) -> None:
    """The home as the next command finds it."""
    open_collection(config)
    assert check(config).document()["faults"] == []


def test_what_comes_back_is_what_there_was(config: Config, phone: Phone, tmp_path: Path) -> None:
    before, counter, epoch = everything(), read_counter(), get_setting("epoch")
    done = back_up(config, tmp_path / "b.zip")
    assert (done.changes, done.photos, done.photos_bad) == (counter, 1, 0)
    phone.tree(note="later")
    restored = restore(config, tmp_path / "b.zip")
    assert (restored.changes, restored.photos, restored.photos_missing) == (counter, 1, 0)
    reopened(config)
    assert (everything(), read_counter()) == (before, counter)
    assert get_setting("epoch") != epoch
    assert execute("SELECT count(*) FROM parked_change").fetchone()[0] == 1
    assert phone.tree(), "the phone is still paired and the counter goes on"


@pytest.mark.parametrize("towards", ["sqlite", "postgresql"])
def test_a_backup_of_either_engine_is_restored_to_either(
    config: Config, phone: Phone, tmp_path: Path, postgresql: str, towards: str
) -> None:
    before = everything()
    back_up(config, tmp_path / "b.zip")
    other = Config(tmp_path / "other", None if towards == "sqlite" else new_postgresql_database(postgresql))
    restore(other, tmp_path / "b.zip")
    reopened(other)
    assert everything() == before
    assert PhotoFolder(other.photo_folder).read(next(PhotoFolder(other.photo_folder).names())).startswith(b"a leaf")
    assert phone.tree()
    close_database()


def test_a_backup_while_phones_write_is_of_one_moment(config: Config, phone: Phone, tmp_path: Path) -> None:
    stop = threading.Event()

    def keep_writing() -> None:
        while not stop.is_set():
            phone.tree()
        close_database()

    writer = threading.Thread(target=keep_writing)
    writer.start()
    try:
        made = [back_up(config, tmp_path / "0.zip")]
        # So small a collection may be written out several times before the other thread has its turn once.
        while len(made) < BACKUPS_MIN or (made[-1].changes == made[0].changes and len(made) < BACKUPS_MAX):
            made.append(back_up(config, tmp_path / f"{len(made)}.zip"))
    finally:
        stop.set()
        writer.join()
    assert made[0].changes < made[-1].changes, "writers were held up"
    for each in (*made[: BACKUPS_MIN - 1], made[-1]):
        other = Config(tmp_path / each.path.stem)
        restore(other, each.path)
        reopened(other)
        assert read_counter() == each.changes


def test_only_its_owner_reads_a_backup_and_keys_come_back_so(config: Config, phone: Phone, tmp_path: Path) -> None:
    key = config.home / "certificates" / "authority.pem"
    key.parent.mkdir()
    key.write_text("a key")
    back_up(config, tmp_path / "b.zip")
    assert stat.S_IMODE((tmp_path / "b.zip").stat().st_mode) == 0o600
    restore(Config(tmp_path / "other"), tmp_path / "b.zip")
    back = tmp_path / "other" / "certificates" / "authority.pem"
    assert (back.read_text(), stat.S_IMODE(back.stat().st_mode)) == ("a key", 0o600)


def test_a_file_is_replaced_only_when_asked(config: Config, tmp_path: Path) -> None:
    back_up(config, tmp_path / "b.zip")
    with pytest.raises(Refused, match="--replace"):
        back_up(config, tmp_path / "b.zip")
    back_up(config, tmp_path / "b.zip", replace=True)
    with pytest.raises(Refused, match="another folder"):
        back_up(config, tmp_path / "nowhere" / "b.zip")
    assert sorted(path.name for path in tmp_path.iterdir() if path.suffix == ".zip") == ["b.zip"]


class TestPhotos:
    def test_a_lost_file_comes_back_and_a_later_one_stays(self, config: Config, phone: Phone, tmp_path: Path) -> None:
        photos = PhotoFolder(config.photo_folder)
        first = next(photos.names())
        back_up(config, tmp_path / "b.zip")
        later = photograph(config, phone, b"taken later")
        shutil.rmtree(config.photo_folder / first[:2])
        assert restore(config, tmp_path / "b.zip").photos_missing == 0
        reopened(config)
        assert photos.read(first) == b"a leaf, re-encoded"
        assert photos.read(later) == b"taken later, re-encoded"

    def test_a_backup_without_photos_forgets_those_whose_file_is_gone(
        self, config: Config, phone: Phone, tmp_path: Path
    ) -> None:
        photos = PhotoFolder(config.photo_folder)
        second = photograph(config, phone, b"another")
        back_up(config, tmp_path / "b.zip", with_photos=False)
        (config.photo_folder / second[:2] / f"{second}.jpg").write_bytes(b"damaged")
        restored = restore(config, tmp_path / "b.zip")
        assert (restored.photos, restored.photos_missing) == (1, 1)
        open_collection(config)
        assert check(config).faults == []
        assert not photos.has(second), "so its phone sends it again"

    def test_a_damaged_file_is_left_out_and_said(self, config: Config, phone: Phone, tmp_path: Path) -> None:
        sha256 = photograph(config, phone, b"another")
        (config.photo_folder / sha256[:2] / f"{sha256}.jpg").write_bytes(b"damaged")
        done = back_up(config, tmp_path / "b.zip")
        assert (done.photos, done.photos_bad) == (1, 1)
        assert "missing or damaged: 1" in "\n".join(done.lines())


def test_who_is_paired_and_who_is_out_stays_as_it_is_now(config: Config, phone: Phone, tmp_path: Path) -> None:
    thief = Phone("lost phone")
    back_up(config, tmp_path / "b.zip")
    devices.revoke("lost phone")
    newcomer = Phone("new phone")
    assert restore(config, tmp_path / "b.zip").devices_kept
    reopened(config)
    assert devices.device_by_token(newcomer.token).name == "new phone"
    with pytest.raises(Unauthorised):
        devices.device_by_token(thief.token)


def test_an_open_pairing_code_does_not_come_back(config: Config, tmp_path: Path) -> None:
    code, _ = devices.new_pairing()
    back_up(config, tmp_path / "b.zip")
    restore(config, tmp_path / "b.zip")
    reopened(config)
    assert execute("SELECT count(*) FROM pairing").fetchone()[0] == 0, code


def test_a_database_that_cannot_be_read_any_more_is_replaced(home: Path, tmp_path: Path) -> None:
    config = Config(home)
    open_collection(config)
    tree = Phone().tree()
    back_up(config, tmp_path / "b.zip")
    close_database()
    (home / "leafwalk.db").write_bytes(b"SQLite format 3\0" + b"\xff" * 5000)
    restored = restore(config, tmp_path / "b.zip")
    assert not restored.devices_kept
    assert "paired again" in "\n".join(restored.lines())
    reopened(config)
    assert tree in {each["id"] for each in everything()}
    assert restored.replaced and (restored.replaced / "leafwalk.db").exists()
    close_database()


@pytest.fixture
def lost(home: Path, request: pytest.FixtureRequest) -> Path:
    """A home with photos and a nightly backup whose database is gone, or empty."""
    config = Config(home)
    open_collection(config)
    phone = Phone()
    photograph(config, phone, b"a leaf", phone.tree())
    (home / "backups").mkdir()
    back_up(config, home / "backups" / "night-2026-05-01.zip", with_photos=False)
    close_database()
    home_lock.leave()
    for file in home.glob("leafwalk.db*"):
        file.unlink()
    if request.param == "emptied":
        (home / "leafwalk.db").touch()
    return home


@pytest.mark.parametrize("lost", ["gone", "emptied"], indirect=True)
def test_a_lost_database_is_told_and_not_replaced_unasked(lost: Path, tmp_path: Path) -> None:
    before = state_of(lost)
    for command in (("check",), ("backup", str(tmp_path / "b.zip")), ("devices",), ("serve", "--port", "0")):
        refused = run_leafwalk(lost, *command)
        assert (refused.returncode, refused.stdout) == (1, ""), command
        assert "there is backups, photos. Restore the newest backup: leafwalk restore FILE" in refused.stderr
        assert state_of(lost) == before
    assert not (tmp_path / "b.zip").exists()
    assert run_leafwalk(lost, "restore", str(lost / "backups" / "night-2026-05-01.zip")).returncode == 0
    assert run_leafwalk(lost, "check").returncode == 0


@pytest.mark.parametrize("lost", ["gone"], indirect=True)
def test_what_shows_that_there_was_a_database_can_be_moved_away_to_start_anew(lost: Path, tmp_path: Path) -> None:
    for name in ("backups", "photos"):
        (lost / name).rename(tmp_path / name)
    assert run_leafwalk(lost, "devices").returncode == 0
    (lost / "replaced-20260501-080000").mkdir()
    (lost / "replaced-20260501-080000" / "leafwalk.db").write_bytes(b"the former one")
    assert run_leafwalk(lost, "check").returncode == 0
    (lost / "leafwalk.db").unlink()
    assert "there is replaced-20260501-080000" in run_leafwalk(lost, "devices").stderr


def test_a_look_and_a_backup_make_no_collection(home: Path, tmp_path: Path) -> None:
    for command in (("check",), ("backup", str(tmp_path / "b.zip"))):
        refused = run_leafwalk(home, *command)
        assert (refused.returncode, refused.stdout) == (1, "")
        assert "holds no collection" in refused.stderr
        assert list(tmp_path.iterdir()) == []


def state_of(home: Path) -> dict[str, bytes]:
    """Every file of a home, by what is in it; not those that SQLite makes beside a database that it only reads."""
    files = (path for path in home.rglob("*") if path.is_file() and path.suffix != ".db-shm")
    return {str(path.relative_to(home)): data for path in files if (data := path.read_bytes())}


class TestBadFiles:
    @pytest.fixture
    def made(self, home: Path, tmp_path: Path) -> tuple[Config, Path]:
        """A collection on SQLite and its backup."""
        config = Config(home)
        open_collection(config)
        photograph(config, phone := Phone(), b"a leaf", phone.tree())
        back_up(config, tmp_path / "b.zip")
        close_database()
        return config, tmp_path / "b.zip"

    def refused(self, made: tuple[Config, Path], match: str) -> None:
        config, path = made
        before = state_of(config.home)
        with pytest.raises(Refused, match=match):
            restore(config, path)
        assert state_of(config.home) == before

    def test_no_changed_byte_goes_unseen(self, made: tuple[Config, Path]) -> None:
        """Of every 97th byte: a change is either refused, or lies where nothing of the content is (a zip's dates)."""
        config, path = made
        whole = path.read_bytes()
        open_database(config.database_address)
        expected = everything()
        close_database()
        refused = 0
        for place in range(0, len(whole), 97):
            path.write_bytes(whole[:place] + bytes([whole[place] ^ 0x55]) + whole[place + 1 :])
            other = Config(path.parent / "other")
            try:
                restore(other, path)
            except Refused:
                refused += 1
                assert not (other.home / "leafwalk.db").exists()
                continue
            open_collection(other)
            assert everything() == expected, place
            assert (other.photo_folder / "x").parent.exists()
            close_database()
            shutil.rmtree(other.home)
        assert refused > len(range(0, len(whole), 97)) * 0.6

    @pytest.mark.parametrize("kept", [0.0, 0.3, 0.9, 0.999])
    def test_a_file_cut_short_is_refused(self, made: tuple[Config, Path], kept: float) -> None:
        whole = made[1].read_bytes()
        made[1].write_bytes(whole[: int(len(whole) * kept)])
        self.refused(made, "nothing was changed")

    def test_another_file_is_refused(self, made: tuple[Config, Path]) -> None:
        made[1].write_text("tag,variety\n")
        self.refused(made, "damaged")
        with zipfile.ZipFile(made[1], "w") as foreign:
            foreign.writestr("letter.txt", "hello")
        self.refused(made, "no backup that leafwalk made")

    @pytest.mark.parametrize(
        ("change", "match"),
        [
            (lambda manifest: manifest.update(schema=999), "newer"),
            (lambda manifest: manifest.update(version=2), "newer"),
            (lambda manifest: manifest.update(format="other"), "no backup"),
            (lambda manifest: manifest["tables"]["tree"].update(rows=2), "tree has not the rows"),
            (lambda manifest: manifest["tables"]["tree"]["columns"].append("x); DROP TABLE tree; --"), "tree"),
            (
                lambda manifest: manifest["members"].update({"../../evil": {"bytes": 1, "sha256": ""}}),
                "list of members",
            ),
        ],
    )
    def test_a_manifest_that_says_otherwise_is_refused(
        self, made: tuple[Config, Path], change: Callable[[dict[str, object]], None], match: str
    ) -> None:
        with zipfile.ZipFile(made[1]) as opened:
            members = {name: opened.read(name) for name in opened.namelist()}
        manifest = json.loads(members["manifest.json"])
        change(manifest)
        with zipfile.ZipFile(made[1], "w") as changed:
            for name, data in {**members, "manifest.json": json.dumps(manifest).encode()}.items():
                changed.writestr(name, data)
        self.refused(made, match)

    def test_rows_that_break_a_reference_are_refused(self, made: tuple[Config, Path]) -> None:
        config, path = made
        open_collection(config)
        execute("PRAGMA foreign_keys = off")
        with write():
            execute("UPDATE photo SET tree = 'nobody'")
        back_up(config, path, replace=True)
        close_database()
        self.refused(made, "FOREIGN KEY")


# Another server of the same database, with a home of its own: tells of each tree once it is acknowledged.
ELSEWHERE = """
import sys
from pathlib import Path
from server.collection import open_collection
from server.config import Config
from tests.support.collection import Phone
open_collection(Config(Path(sys.argv[1]), sys.argv[2]))
phone = Phone()
while True:
    print(phone.tree(), flush=True)
"""


def test_servers_elsewhere_go_on_while_postgresql_is_restored(postgresql: str, tmp_path: Path) -> None:
    config = Config(tmp_path / "home", new_postgresql_database(postgresql))
    open_collection(config)
    first = Phone().tree()
    back_up(config, tmp_path / "b.zip")
    told = tmp_path / "told"

    def wait_for(more: int) -> None:
        reached, until = len(told.read_text().split()), time.monotonic() + 60
        while len(told.read_text().split()) < reached + more and time.monotonic() < until:
            assert elsewhere.poll() is None, "the other server fell"
            time.sleep(0.02)

    command = [sys.executable, "-c", ELSEWHERE, str(tmp_path / "elsewhere"), str(config.database_url)]
    with told.open("w") as out, subprocess.Popen(command, stdout=out, cwd=ROOT) as elsewhere:
        try:
            for _ in range(3):
                wait_for(5)
                restore(config, tmp_path / "b.zip")
            wait_for(5)
        finally:
            elsewhere.kill()
    trees = told.read_text().split()
    reopened(config)
    kept = {each["id"] for each in everything()}
    assert {first, trees[-1]} <= kept, "what was acknowledged after the restore is there"
    assert trees[0] not in kept, "what came before it is with the phones"
    close_database()


# Columns and tables that came with later migrations.
LATER = {
    "change_log": {"whole"},
    "variety": {"origin_country"},
    "place": {"walk"},
    "tree": {"marked_shoots", "parent", "batch", "donor_number", "decision", "decided_on"},
    "observation": {"shoot_leaves", "leaf_cm2", "part"},
}
LATER_TABLES = {"batch", "job", "lesson"}


def of_the_first_schema(path: Path) -> None:
    """Rewrite a backup as the first release made it."""
    with zipfile.ZipFile(path) as opened:
        manifest = json.loads(opened.read("manifest.json"))
        rows = {
            table: [json.loads(line) for line in opened.read(f"tables/{table}.jsonl").splitlines()]
            for table in manifest["tables"]
        }
    with path.open("wb") as file, closing(BackupWriter(file)) as writer:
        for table, told in manifest["tables"].items():
            if table in LATER_TABLES:
                continue
            kept = [place for place, column in enumerate(told["columns"]) if column not in LATER.get(table, ())]
            columns = tuple(told["columns"][place] for place in kept)
            writer.add_table(table, columns, [tuple(row[place] for place in kept) for row in rows[table]])
        writer.finish(**{name: manifest[name] for name in ("made_at", "seq", "with_photos")}, schema=1)


def test_a_backup_of_an_older_schema_is_brought_up_to_date(config: Config, phone: Phone, tmp_path: Path) -> None:
    before = everything()
    back_up(config, tmp_path / "b.zip", with_photos=False)
    of_the_first_schema(tmp_path / "b.zip")
    restore(config, tmp_path / "b.zip")
    reopened(config)
    assert everything() == before
    assert schema_number() == newest_schema() > 1
    assert phone.tree(marked_shoots=3)


def test_a_running_server_is_not_restored_under(live_server: LiveServer, tmp_path: Path) -> None:
    assert live_server.leafwalk("backup", str(tmp_path / "b.zip")).returncode == 0
    refused = live_server.leafwalk("restore", str(tmp_path / "b.zip"))
    assert (refused.returncode, refused.stdout) == (1, "")
    assert "in use by a server" in refused.stderr
    assert live_server.pair()


# Ends the process for good at the so-many-th renaming, as a power cut does, whatever would be tidied up afterwards.
CUT_AT = """
import os, pathlib, sys
at, replace = int(sys.argv.pop(1)), pathlib.Path.replace
def cut(self, target):
    global at
    at -= 1
    if at < 0:
        os._exit(9)
    return replace(self, target)
pathlib.Path.replace = cut
"""


def test_a_power_cut_during_a_restore_leaves_the_old_or_the_new(home: Path, tmp_path: Path) -> None:
    config = Config(home)
    open_collection(config)
    Phone().tree()
    (home / "certificates").mkdir()
    (home / "certificates" / "authority.pem").write_text("old key")
    back_up(config, tmp_path / "b.zip")
    (home / "certificates" / "authority.pem").write_text("new key")
    Phone().tree()
    later = everything()
    close_database()
    seen = set()
    for cut_at in range(10):
        shutil.copytree(home, tmp_path / f"cut{cut_at}")
        broken = Config(tmp_path / f"cut{cut_at}")
        command = [sys.executable, "-c", CUT_AT + LEAFWALK, str(cut_at), "--home", str(broken.home)]
        ended = subprocess.run([*command, "restore", str(tmp_path / "b.zip")], check=False, capture_output=True)
        reopened(broken)
        key = (broken.home / "certificates" / "authority.pem").read_text()
        assert key == ("new key" if everything() == later else "old key")
        seen.add((ended.returncode, key))
        close_database()
        if ended.returncode == 0:
            break
    assert seen == {(9, "new key"), (9, "old key"), (0, "old key")}


def test_what_a_killed_backup_left_goes_with_the_next(home: Path, tmp_path: Path) -> None:
    open_collection(Config(home))
    close_database()
    target = str(tmp_path / "b.zip")
    command = [sys.executable, "-c", CUT_AT + LEAFWALK, "0", "--home", str(home), "backup", target]
    assert subprocess.run(command, check=False, capture_output=True).returncode == 9
    assert [path.name[:7] for path in tmp_path.iterdir() if path != home] == [".b.zip-"]
    assert run_leafwalk(home, "backup", target).returncode == 0
    assert {path.name for path in tmp_path.iterdir()} == {"b.zip", "home"}


def test_a_restore_clears_away_what_a_killed_one_left_and_makes_no_empty_folder(
    config: Config, phone: Phone, tmp_path: Path
) -> None:
    back_up(config, tmp_path / "b.zip")
    (config.home / ".replaced-20260501-080000.zip-x1y2z3a4").write_bytes(b"half")
    restore(config, tmp_path / "b.zip")
    assert not list(config.home.glob(".replaced-*"))
    done = restore(Config(tmp_path / "fresh"), tmp_path / "b.zip")
    assert done.replaced is None
    assert not list((tmp_path / "fresh").glob("replaced-*"))


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux sets the limits of another process")
def test_a_full_disk_leaves_no_half_file_and_the_collection_as_it_was(home: Path, tmp_path: Path) -> None:
    """The kernel refuses every byte of a file beyond the limit (setrlimit(2), RLIMIT_FSIZE), as on a full disk."""
    config = Config(home)
    open_collection(config)
    phone = Phone()
    phone.send(*(phone.change("place", place=f"Bench {number}", note="x" * 500) for number in range(400)))
    back_up(config, tmp_path / "b.zip")
    phone.tree()
    before = everything()
    close_database()
    home_lock.leave()

    def with_limit(*arguments: str) -> subprocess.CompletedProcess[str]:
        script = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (20000, 20000));"
        script += "import signal; signal.signal(signal.SIGXFSZ, signal.SIG_IGN);" + LEAFWALK
        command = [sys.executable, "-c", script, "--home", str(home), *arguments]
        return subprocess.run(command, check=False, capture_output=True, text=True)

    for arguments in (("backup", str(tmp_path / "new.zip")), ("restore", str(tmp_path / "b.zip")), ("check",)):
        refused = with_limit(*arguments)
        assert (refused.returncode, refused.stdout) == (1, ""), arguments
        assert "Traceback" not in refused.stderr
        assert "disk is full or failing" in refused.stderr
        assert "from a backup" not in refused.stderr
        assert "send again" not in refused.stderr
        assert sorted(path.name for path in tmp_path.iterdir()) == ["b.zip", "home"]
        reopened(config)
        assert everything() == before
        close_database()
        home_lock.leave()


def test_the_commands_say_what_they_did(home: Path, tmp_path: Path) -> None:
    assert run_leafwalk(home, "devices").returncode == 0
    made = run_leafwalk(home, "backup", str(tmp_path / "b.zip"))
    assert (made.returncode, made.stderr) == (0, "")
    assert "only you can read it" in made.stdout
    assert "add --replace" in run_leafwalk(home, "backup", str(tmp_path / "b.zip")).stderr
    back = run_leafwalk(home, "restore", str(tmp_path / "b.zip"))
    assert (back.returncode, back.stderr) == (0, "")
    assert back.stdout.startswith("Restored as of 20")
    looked = run_leafwalk(home, "check", "--json")
    assert (looked.returncode, json.loads(looked.stdout)["ok"]) == (0, True)
    assert SEEN not in looked.stdout
