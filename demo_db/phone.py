"""A phone of the story: it is paired like any other and syncs in requests of the size that phones send."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import groupby

from demo_db.notebook import HELPER, OWNER, Entry
from demo_db.season import Identities
from server.records import devices
from server.records.devices import Device
from server.sync.exchange import PROTOCOL, exchange
from server.sync.push import Sender

CHANGES_A_REQUEST_MAX = 500
PULL_LIMIT = 500


class Phone:
    """Sends entries with its own count of changes, and pulls as it goes."""

    def __init__(self, name: str, role: str) -> None:
        code, _ = devices.new_pairing(role)
        self.device: Device = devices.pair(code, name)[0]
        self._n = 0
        self._epoch: str | None = None
        self._cursor: str | None = None

    def sync(self, entries: list[Entry], identities: Identities) -> None:
        """Send the entries, then pull until nothing is left. Raises RuntimeError when one is not stored."""
        changes = [self._change(entry, identities) for entry in entries]
        for batch in _batches(changes):
            self._request(batch)
        while self._request([]):
            continue

    def _change(self, entry: Entry, identities: Identities) -> dict[str, object]:
        self._n += 1
        return {
            "id": identities.record(),
            "n": self._n,
            "kind": entry.kind,
            "record": entry.record,
            "edited_at": entry.at.isoformat(timespec="seconds"),
            "set": entry.set,
        }

    def _request(self, changes: list[dict[str, object]]) -> bool:
        sender = Sender(self.device.id, self.device.role)
        answer = exchange(sender, PROTOCOL, self._epoch, self._cursor, PULL_LIMIT, list(changes))
        for change, result in zip(changes, answer["results"], strict=True):
            if result["outcome"] != "stored":
                raise RuntimeError(f"The demonstration's {change} was not stored: {result}")
        self._epoch, self._cursor = answer["epoch"], answer["cursor"]
        return bool(answer["more"])


def _batches(changes: list[dict[str, object]]) -> Iterator[list[dict[str, object]]]:
    for start in range(0, len(changes), CHANGES_A_REQUEST_MAX):
        yield changes[start : start + CHANGES_A_REQUEST_MAX]


def sync_every_evening(entries: list[Entry], phones: dict[str, Phone], identities: Identities) -> None:
    """Bring entries home day by day, the owner's phone before the helper's."""
    for _, of_day in groupby(entries, key=lambda entry: entry.at.date()):
        today = list(of_day)
        for who in (OWNER, HELPER):
            own = [entry for entry in today if entry.by == who]
            if own:
                phones[who].sync(own, identities)
