"""One stretch of the log's records in memory, as they go out: phones mostly ask for what others were just given."""

from __future__ import annotations

from bisect import bisect_right

BYTES_MAX = 32 * 1024 * 1024
# About what Python needs for a record besides its text: its id, its number and their places.
RECORD_BYTES = 400

Found = tuple[int, str, str]
"""A record as it was found: its seq, its id and its text."""


class Stretch:
    """Every record whose newest change lies after number `start` and up to `end`, each as JSON text, in that order.

    A record that is touched again moves to its new place.
    """

    def __init__(self, start: int) -> None:
        self.start = self.end = start
        self._bytes = 0
        self._seq_of: dict[str, int] = {}
        self._records: dict[int, tuple[str, str]] = {}  # by seq, which only grows: id and text
        self._seqs: list[int] = []  # of those in _records, and some of records that moved since

    def covers(self, since: int) -> bool:
        """Whether what follows the change number `since` is known as far as `end`."""
        return self.start <= since <= self.end

    def after(self, since: int, most: int) -> list[tuple[int, str]]:
        """(seq, text) of the records after a number that is covered, the oldest first, at most so many."""
        found: list[tuple[int, str]] = []
        for at in range(bisect_right(self._seqs, since), len(self._seqs)):
            seq = self._seqs[at]
            if seq in self._records:
                if len(found) == most:
                    break
                found.append((seq, self._records[seq][1]))
        return found

    def extend(self, found: list[Found], end: int) -> None:
        """Take in all records whose newest change lies between the former `end` and this one, in commit order."""
        for seq, identity, text in found:
            if identity in self._seq_of:
                self._drop(self._seq_of[identity])
            self._seq_of[identity], self._records[seq] = seq, (identity, text)
            self._bytes += len(text) + RECORD_BYTES
        self._seqs += [seq for seq, _, _ in found]
        if len(self._seqs) > 2 * len(self._records):
            self._seqs = list(self._records)
        self.end = end

    def trim(self) -> None:
        """Let the oldest go beyond BYTES_MAX; `start` moves up."""
        gone = 0
        while self._bytes > BYTES_MAX:
            self.start = self._seqs[gone]
            if self.start in self._records:
                self._drop(self.start)
            gone += 1
        del self._seqs[:gone]

    def _drop(self, seq: int) -> None:
        identity, text = self._records.pop(seq)
        del self._seq_of[identity]
        self._bytes -= len(text) + RECORD_BYTES
