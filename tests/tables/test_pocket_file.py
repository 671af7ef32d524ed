"""A phone's pocket as a file comes in as if the phone had sent it: once, under its role, an outcome for each entry."""

from __future__ import annotations

import base64
import hashlib
import json
from pathlib import Path
from typing import Any

import pytest

from server import ids
from server.api.photos import arrive
from server.errors import Refused
from server.records import devices
from server.records.database import execute
from server.records.photo_files import PhotoFolder
from server.sync.push import CHANGES_MAX
from server.tables.intake import SOURCE
from server.tables.pocket_file import read_pocket, take_pocket
from tests.api.test_photos import jpeg
from tests.support.collection import Phone
from tests.support.server import run_leafwalk
from tests.tables.conftest import TAG_1, TAG_2, log_length, records

SEEN_AT = "2026-05-03T09:14:00+02:00"


class Unpaired(Phone):
    """A phone of another home, or of none."""

    def __init__(self) -> None:
        self.n = 0


def photo_of(data: bytes, **told: Any) -> dict[str, Any]:
    """A photo as it stands in the file."""
    about = {"sha256": hashlib.sha256(data).hexdigest(), "taken_at": SEEN_AT, "record": ids.new_id()}
    return {**about, "bytes_base64": base64.b64encode(data).decode(), **told}


def pocket_of(device: str | None, *changes: Any, parked: Any = (), photos: Any = ()) -> dict[str, Any]:
    """The file's document."""
    refused = [{"change": change, "problem": {}} for change in parked]
    head = {"format": "leafwalk-pocket", "version": 1, "exported_at": SEEN_AT, "device": device}
    return {**head, "changes": list(changes), "parked": refused, "photos": list(photos)}


def take(photos: PhotoFolder, document: dict[str, Any]) -> list[str]:
    """Take it in; what the grower is told."""
    return take_pocket(read_pocket(json.loads(json.dumps(document)), "pocket.json"), photos, arrive).lines()


def test_entries_and_photos_come_in_once_however_they_come(collection: str, photos: PhotoFolder) -> None:
    phone, data = Phone(), jpeg(120, 90)
    tree = phone.tree()
    seen = phone.change("observation", tree=tree, seen_at=SEEN_AT, leaves=12)
    shown = phone.change("photo", tree=tree, taken_at=SEEN_AT, sha256=hashlib.sha256(data).hexdigest())
    document = pocket_of(phone.sender.id, seen, shown, photos=[photo_of(data)])
    assert take(photos, document) == [
        "observation: 1 new, 0 here already, 0 refused",
        "photo: 1 new, 0 here already, 0 refused",
        "photo files: 1 new, 0 here already, 0 refused",
    ]
    before = log_length()
    assert take(photos, document) == [
        "observation: 0 new, 1 here already, 0 refused",
        "photo: 0 new, 1 here already, 0 refused",
        "photo files: 0 new, 1 here already, 0 refused",
    ]
    assert [each.outcome for each in phone.send(seen, shown)] == ["duplicate", "duplicate"]
    assert log_length() == before
    assert [each["leaves"] for each in records("observation")] == [12]
    assert {each.name for each in devices.devices()} == {"phone"}
    assert photos.has(hashlib.sha256(data).hexdigest())


def test_what_a_helpers_file_may_not_do_is_parked_with_its_reason(collection: str, photos: PhotoFolder) -> None:
    helper = Phone("helper", "helper")
    devices.revoke("helper")
    tree = Phone("owner").tree()
    seen = helper.change("observation", tree=tree, seen_at=SEEN_AT, leaves=12)
    card = helper.change("place", place="Yard", edited_at=SEEN_AT)
    assert take(photos, pocket_of(helper.sender.id, seen, card)) == [
        "place: 0 new, 0 here already, 1 refused",
        "observation: 1 new, 0 here already, 0 refused",
        f"Refused, place of {SEEN_AT}: A helper's phone can't edit cards; ask the owner to make this change.",
    ]
    assert [row[0] for row in execute("SELECT id FROM parked_change").fetchall()] == [card["id"]]
    assert records("place") == []


def test_a_phone_of_a_lost_home_brings_all_that_it_holds(collection: str, photos: PhotoFolder) -> None:
    """What the lost home refused for the absence of a tree is sound where the tree comes first."""
    phone, stranger = Unpaired(), ids.new_id()
    tree = phone.change("tree", tag=TAG_1)
    refused = phone.change("observation", tree=tree["record"], seen_at=SEEN_AT, leaves=12)
    later = phone.change("tree", tree["record"], note="moved house")
    document = pocket_of(stranger, tree, later, parked=[refused])
    assert take(photos, document) == [
        "tree: 2 new, 0 here already, 0 refused",
        "observation: 1 new, 0 here already, 0 refused",
    ]
    assert take(photos, document)[0] == "tree: 0 new, 2 here already, 0 refused"
    assert [(each["tag"], each["note"]) for each in records("tree")] == [(TAG_1, "moved house")]
    (source,) = devices.devices()
    assert (source.name, source.role) == (f"pocket {stranger}", "owner")


def test_an_old_file_does_not_win_over_later_edits(collection: str, photos: PhotoFolder) -> None:
    owner, phone = Phone("owner"), Unpaired()
    tree = owner.tree()
    owner.send(owner.change("tree", tree, edited_at="2026-06-02T08:00:00+02:00", note="later"))
    devices.local_source(SOURCE)
    execute("UPDATE device SET last_effective_ms = ? WHERE name = ?", (ids.now_ms(), SOURCE))
    take(photos, pocket_of(None, phone.change("tree", tree, edited_at="2026-06-01T08:00:00+02:00", note="before")))
    assert [each["note"] for each in records("tree")] == ["later"]


def test_a_phone_that_is_called_like_an_import_is_none(collection: str, photos: PhotoFolder) -> None:
    source = devices.local_source("pocket")
    Phone("pocket", "helper")
    assert devices.local_source("pocket") == source
    assert take(photos, pocket_of(None, Unpaired().change("place", place="Yard")))[0].startswith("place: 1 new")


def test_more_changes_than_one_request_takes(sqlite_collection: str, photos: PhotoFolder) -> None:
    phone = Phone()
    tree = phone.tree()
    moved = [phone.change("work", tree=tree, done_at=SEEN_AT, task="water") for _ in range(CHANGES_MAX + 1)]
    assert take(photos, pocket_of(phone.sender.id, *moved)) == [
        f"work: {CHANGES_MAX + 1} new, 0 here already, 0 refused"
    ]


def test_photos_that_are_not_in_the_file_or_are_none(collection: str, photos: PhotoFolder) -> None:
    kept, data = jpeg(100, 80), jpeg(110, 80)
    take(photos, pocket_of(None, photos=[photo_of(kept)]))
    told = take(
        photos,
        pocket_of(
            None,
            photos=[
                photo_of(kept, bytes_base64=None),
                photo_of(data, bytes_base64=None),
                photo_of(data, record=None),
                photo_of(data, bytes_base64="no base 64"),
                photo_of(data, bytes_base64=base64.b64encode(kept).decode()),
                photo_of(b"no picture"),
                photo_of(data, sha256="../leafwalk.db"),
            ],
        ),
    )
    assert told[:3] == [
        "photo files: 0 new, 1 here already, 4 refused",
        "1 photo is not in the file: the phone alone has it.",
        "1 photo of an entry that was never saved was left aside.",
    ]
    assert [line.startswith(f"Refused, photo of {SEEN_AT}: ") for line in told[3:]] == [True] * 4
    assert "changed on its way" in told[4]
    assert "no JPEG" in told[5]
    assert list(photos.names()) == [hashlib.sha256(kept).hexdigest()]


def test_entries_of_any_content_are_refused_one_by_one(collection: str, photos: PhotoFolder) -> None:
    good = Unpaired().change("place", place="Yard")
    wrong = [
        17,
        None,
        {"n": True},
        {**good, "id": "\ud800"},
        {**good, "id": ids.new_id(), "kind": "\x1b[2J"},
        {**good, "id": ids.new_id(), "edited_at": "\x1b"},
    ]
    told = take(photos, pocket_of(None, *wrong, good))
    assert told[:2] == ["place: 1 new, 0 here already, 2 refused", "of no known kind: 0 new, 0 here already, 4 refused"]
    assert len(told) == 2 + len(wrong)
    assert all(line.isprintable() for line in told)


def test_the_command_takes_one_file_and_changes_nothing_for_a_wrong_one(tmp_path: Path) -> None:
    home, file = tmp_path / "home", tmp_path / "leafwalk-pocket-2026-05-03.json"
    text = json.dumps(pocket_of(None, Unpaired().change("tree", tag=TAG_2), photos=[photo_of(jpeg(60, 60))]))
    for wrong, says in (
        (text[: len(text) // 2], "damaged"),
        (text.replace('"changes"', '"version": 1, "changes"'), "damaged"),
        ('{"type": "FeatureCollection"}', "no file that a phone saved"),
    ):
        file.write_text(wrong)
        done = run_leafwalk(home, "import", str(file))
        assert (done.returncode, done.stdout) == (1, ""), says
        assert says in done.stderr
        assert len(done.stderr.splitlines()) == 1
        assert not home.exists()
    file.write_text(text)
    assert "alone" in run_leafwalk(home, "import", str(file), str(file)).stderr
    assert "can't be read" in run_leafwalk(home, "import", str(tmp_path / "none.json")).stderr
    done = run_leafwalk(home, "import", str(file))
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines() == [
        "tree: 1 new, 0 here already, 0 refused",
        "photo files: 1 new, 0 here already, 0 refused",
    ]
    assert run_leafwalk(home, "check").returncode == 0


def test_a_file_that_no_phone_writes_is_not_even_read(tmp_path: Path) -> None:
    file = tmp_path / "large.json"
    with file.open("wb") as made:
        made.truncate(200_000_000)
    done = run_leafwalk(tmp_path / "home", "import", str(file))
    assert (done.returncode, done.stdout) == (1, "")
    assert "128 MB" in done.stderr


def test_another_document_is_refused_before_anything_is_touched() -> None:
    sound = pocket_of(None)
    for document, says in (
        *((other, "no file that a phone saved") for other in (None, [], {}, {"format": "geojson"})),
        *(
            (sound | wrong, "damaged")
            for wrong in ({"changes": {}}, {"parked": [1]}, {"photos": None}, {"device": "me"})
        ),
        ({"format": "leafwalk-pocket"}, "damaged"),
        (sound | {"version": 2}, "newer Leafwalk"),
    ):
        with pytest.raises(Refused, match=f"{says}.* Nothing was imported"):
            read_pocket(document, "pocket.json")
