"""A phone's pocket as a file: what was not home yet when it was written, taken in as if the phone had sent it.

Changes keep their ids, so one that came by both ways, or twice, is there once. They count as the edits of the phone
that wrote the file where this home has paired it; another home's phone gets a name of its own here, so that its edits
keep their order in time.
"""

from __future__ import annotations

import base64
import re
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from server.errors import Refused
from server.records.devices import local_source, once_paired
from server.records.photo_files import PhotoStore
from server.sync.fields import KINDS, SHA256
from server.sync.push import CHANGES_MAX, Sender, push
from server.wording.said import printable, say, say_count

FORMAT, VERSION = "leafwalk-pocket", 1
# A phone puts at most 64 MiB of photos into it, which base64 makes 90 MB; the rest is a hundred thousand changes.
BYTES_MAX = 128_000_000
REASONS_MAX = 50
NOT_WHOLE = say("{file} is damaged; copy it from the phone again, or save it there anew. Nothing was imported.")
_FOREIGN = say("{file} is no file that a phone saved from its Pocket. Nothing was imported.")
_NEWER = say("{file} was written by a newer Leafwalk; update this one. Nothing was imported.")
_NO_PHOTO = say("The photo is damaged in this file. Copy the file from the phone again, or save it there anew.")
_LISTS = ("changes", "parked", "photos")
_DEVICE = re.compile(r"[0-9a-f-]{36}")
_OUTCOMES = {"stored": "new", "duplicate": "here", "refused": "refused"}

Arrive = Callable[[PhotoStore, str, bytes], bool]
"""Takes a photo in as an uploaded one: True where it is new. Raises Refused."""


@dataclass(frozen=True, slots=True)
class Pocket:
    """What such a file holds: the phone that wrote it, where it was paired, its changes in order, and its photos."""

    device: str | None
    changes: list[Any]
    photos: list[dict[str, Any]]


@dataclass(slots=True)
class Summary:
    """What became of a pocket's changes, by kind, and of its photos' files."""

    changes: dict[str, Counter[str]] = field(default_factory=dict)
    photos: Counter[str] = field(default_factory=Counter)
    reasons: list[str] = field(default_factory=list)

    def lines(self) -> list[str]:
        """The summary in words, a line each; what the file itself holds can't move a terminal's cursor."""
        told = [_counts(kind, self.changes[kind]) for kind in [*KINDS, ""] if kind in self.changes]
        if self.photos:
            told.append(_counts(say("photo files"), self.photos))
        if lacking := self.photos["lacking"]:
            told.append(
                say_count(
                    "{count} photo is not in the file: the phone alone has it.",
                    "{count} photos are not in the file: the phone alone has them.",
                    lacking,
                )
            )
        if unsaved := self.photos["unsaved"]:
            told.append(
                say_count(
                    "{count} photo of an entry that was never saved was left aside.",
                    "{count} photos of entries that were never saved were left aside.",
                    unsaved,
                )
            )
        told += self.reasons[:REASONS_MAX]
        if further := len(self.reasons[REASONS_MAX:]):
            told.append(say("and {count} more.", count=further))
        if not told:
            told.append(say("The file is empty: all was home when the phone wrote it."))
        return [printable(line) for line in told]


def read_pocket(value: Any, file: str) -> Pocket:
    """The pocket that a JSON document is. Raises Refused for any other document."""
    if not isinstance(value, dict) or value.get("format") != FORMAT:
        raise Refused(_FOREIGN.filled(file=file))
    version = value.get("version")
    if isinstance(version, int) and version > VERSION:
        raise Refused(_NEWER.filled(file=file))
    device = value.get("device")
    named = device is None or (isinstance(device, str) and _DEVICE.fullmatch(device))
    if version != VERSION or not named or not all(isinstance(value.get(key), list) for key in _LISTS):
        raise Refused(NOT_WHOLE.filled(file=file))
    changes, parked, photos = (value[key] for key in _LISTS)
    if not all(isinstance(each, dict) for each in [*parked, *photos]):
        raise Refused(NOT_WHOLE.filled(file=file))
    # In the order in which they were made; what another home refused may be sound in this one.
    return Pocket(device, sorted([*(each.get("change") for each in parked), *changes], key=_number), photos)


def take_pocket(pocket: Pocket, photos: PhotoStore, arrive: Arrive) -> Summary:
    """Take a pocket in as the phone's own sync would: changes first, an outcome for each; then the photos' files.

    Raises Unavailable when the rest can't be kept now; taking the file in again goes on where that was.
    """
    summary = Summary()
    sender = _sender(pocket.device)
    for start in range(0, len(pocket.changes), CHANGES_MAX):
        part = pocket.changes[start : start + CHANGES_MAX]
        for raw, outcome in zip(part, push(sender, part), strict=True):
            told = raw if isinstance(raw, dict) else {}
            kind = next((known for known in KINDS if known == told.get("kind")), "")
            summary.changes.setdefault(kind, Counter())[_OUTCOMES[outcome.outcome]] += 1
            if outcome.problem is not None:
                summary.reasons.append(_reason(kind, told.get("edited_at"), outcome.problem["detail"]))
    for photo in pocket.photos:
        try:
            summary.photos[_take_photo(photo, photos, arrive)] += 1
        except Refused as refusal:
            summary.photos["refused"] += 1
            summary.reasons.append(_reason("photo", photo.get("taken_at"), refusal.message))
    return summary


def _sender(device: str | None) -> Sender:
    role = once_paired().get(device) if device else None
    if device and role:
        return Sender(device, role)
    source = local_source(f"pocket {device}" if device else "pocket")
    return Sender(source.id, source.role)


def _take_photo(photo: dict[str, Any], photos: PhotoStore, arrive: Arrive) -> str:
    sha256, text = photo.get("sha256"), photo.get("bytes_base64")
    if not isinstance(sha256, str) or not SHA256.fullmatch(sha256):
        raise Refused(_NO_PHOTO)
    if photos.has(sha256):
        return "here"
    if photo.get("record") is None:
        return "unsaved"
    if text is None:
        return "lacking"
    try:
        data = base64.b64decode(text, validate=True)
    except (TypeError, ValueError) as error:
        raise Refused(_NO_PHOTO) from error
    return "new" if arrive(photos, sha256, data) else "here"


def _number(raw: Any) -> int:
    """A phone's own count of a change; one that has none, which sync refuses, goes first."""
    n = raw.get("n") if isinstance(raw, dict) else None
    return n if isinstance(n, int) else 0


def _counts(what: str, count: Counter[str]) -> str:
    told = say("{what}: {new} new, {here} here already, {refused} refused")
    values = {name: count[name] for name in ("new", "here", "refused")}
    return told.filled(what=what or say("of no known kind"), **values)


def _reason(kind: str, time: Any, detail: str) -> str:
    return say("Refused, {kind} of {time}: {reason}", kind=kind or "?", time=time or "?", reason=detail)
