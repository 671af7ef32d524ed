"""One bad day, drawn from a seed: what happens, in which order, and what must hold at its end."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any, Protocol
from uuid import UUID

from server.ids import TAG_SYMBOLS, check_character
from tests.sync.bad_days.home import Home, encoded, seeded, shown
from tests.sync.bad_days.model import CARDS, REFERS, REQUIRED, Clock, Model
from tests.sync.bad_days.phone import PythonPhone

STEPS, TABS = 240, 2
LIMIT_MAX = 8
YEAR_S = 365 * 86_400
SETTLING_ROUNDS_MAX = 12
# Before whatever a phone whose clock is a year slow takes for now: it would refuse to note what lies ahead of it.
SEEN = "2024-05-03T08:30:00+02:00"
View = dict[str, tuple[str, dict[str, Any]]]


@contextmanager
def quick_folder() -> Iterator[Path]:
    """A folder for one day, in memory where the system has such: thousands of commits wait for no disk there."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(prefix="leafwalk-", dir=memory if memory.is_dir() else None) as folder:
        yield Path(folder)


class Phone(Protocol):
    """What a simulated phone can do; the same for the one in Python and the real one in a browser."""

    def save(self, kind: str, record: str, values: dict[str, Any], edited_at: str) -> int: ...
    def start(self, tab: int) -> dict[str, Any] | None: ...
    def receive(self, tab: int, answer: dict[str, Any] | None) -> dict[str, Any] | None: ...
    def kill(self) -> None: ...
    def view(self) -> View: ...
    def pocket(self) -> tuple[int, list[int]]: ...


@dataclass
class Holder:
    """A phone with its pairing, its clock's error, and what its grower entered."""

    phone: Phone
    device: str
    token: str
    role: str
    clock_error: timedelta
    # By number: the entry, and whether home has to refuse it.
    entered: dict[int, tuple[dict[str, Any], bool]] = field(default_factory=dict)


@dataclass(eq=False)
class Message:
    """A request on its way, or its answer on the way back; nobody waits any more where `tab` is None."""

    holder: Holder
    tab: int | None
    body: bytes
    request: dict[str, Any]
    answer: dict[str, Any] | None = None


class World:
    """A home, some phones, and the messages between them."""

    def __init__(
        self,
        seed: int,
        folder: Path,
        new_phone: Callable[[Random, int], Phone] | None = None,
        steps: int = STEPS,
        faulty_values: bool = True,
    ) -> None:
        """`faulty_values` are entered only into phones that do not check them themselves."""
        self._rng, self._steps, self._faulty_values = Random(seed), steps, faulty_values
        self._clock = Clock(datetime(2026, 5, 1, 6, tzinfo=UTC))
        self._folder, self._new_phone = folder, new_phone or (lambda rng, _: PythonPhone(rng))
        self._messages: list[Message] = []
        self._old: list[Message] = []
        self._backups: list[tuple[Path, Model]] = []
        self._model = Model()
        self.happened: Counter[str] = Counter()

    def run(self) -> None:
        """Live through the day, let all calm down, and see that nothing was lost; AssertionError otherwise."""
        with seeded(self._rng, self._clock):
            self._home = Home(self._folder)
            self._holders = [self._pair(number) for number in range(self._rng.randint(2, 4))]
            for _ in range(self._steps):
                self._clock.now += timedelta(seconds=self._rng.expovariate(1 / 600))
                self._step()
            self._settle()
            self._judge()

    def _pair(self, number: int) -> Holder:
        role = "helper" if number == 2 else "owner"
        device, token = self._home.pair(f"phone {number}", role)
        error = self._rng.choice([0, 0, self._rng.uniform(-YEAR_S, YEAR_S)])
        return Holder(self._new_phone(self._rng, number), device, token, role, timedelta(seconds=error))

    def _step(self) -> None:
        events: dict[Callable[[], object], int] = {
            self._enter: 30, self._start: 22, self._deliver: 30, self._answer: 30, self._drop: 5, self._repeat: 4,
            self._cut: 3, self._kill_phone: 3, self._turn_clock: 2, self._kill_server: 2, self._kill_server_within: 4,
            self._back_up: 3, self._restore: 2,
        }  # fmt: skip
        (event,) = self._rng.choices(list(events), list(events.values()))
        if event() is not False:
            self.happened[event.__name__.strip("_")] += 1

    # What people do.

    def _enter(self) -> None:
        holder = self._rng.choice(self._holders)
        kind, record, values, bad = self._draw_entry(holder)
        moment = (self._clock.now + holder.clock_error).isoformat(timespec="milliseconds")
        n = holder.phone.save(kind, record, values, moment)
        holder.entered[n] = ({"kind": kind, "record": record, "set": values}, bad)

    def _draw_entry(self, holder: Holder) -> tuple[str, str, dict[str, Any], bool]:
        rng, view = self._rng, holder.phone.view()
        of_kind = {kind: sorted(r for r, (k, _) in view.items() if k == kind) for kind in (*CARDS, "observation")}
        number = rng.randrange(1000)
        edited = [kind for kind in of_kind if of_kind[kind] and (holder.role == "owner" or kind not in CARDS)]
        if edited and rng.random() < 0.4:
            kind = rng.choice(edited)
            record = rng.choice(of_kind[kind])
            values = self._draw_edit(kind, number, of_kind, bool(view[record][1].get("voided")))
            return kind, record, values, values.get("leaves") == -1
        bad = self._faulty_values and rng.random() < 0.08
        if of_kind["tree"] and rng.random() < 0.6:
            values = {"tree": rng.choice(of_kind["tree"]), "seen_at": SEEN, "leaves": -1 if bad else number}
            return "observation", self._new_id(), values, bad
        kind = rng.choice(CARDS)
        if kind == "tree":
            values = {"tag": "nonsense" if bad else self._draw_tag()}
            for name in ("variety", "place"):
                if of_kind[name] and rng.random() < 0.5:
                    values[name] = rng.choice(of_kind[name])
            return kind, self._new_id(), values, bad or holder.role != "owner"
        return kind, self._new_id(), {kind: 7 if bad else f"Number {number}"}, bad or holder.role != "owner"

    def _draw_edit(self, kind: str, number: int, of_kind: dict[str, list[str]], withdrawn: bool) -> dict[str, Any]:
        rng = self._rng
        if withdrawn and rng.random() < 0.5:
            return {"voided": False}
        if kind == "observation":
            leaves = rng.choice([number, number, None, -1 if self._faulty_values else 0])
            return {"leaves": leaves, "note": f"note {number}"}
        if kind == "tree" and rng.random() < 0.4:
            return {"tag": self._draw_tag()}
        if kind == "tree" and of_kind["place"] and rng.random() < 0.4:
            return {"place": rng.choice(of_kind["place"])}
        return {"voided": rng.random() < 0.6} if rng.random() < 0.3 else {"note": rng.choice([f"note {number}", None])}

    def _draw_tag(self) -> str:
        """One of few, so that two trees are given the same one now and then."""
        number = self._rng.randrange(60) if self._rng.random() < 0.7 else 0
        symbols = f"BAD{TAG_SYMBOLS[number // 30]}{TAG_SYMBOLS[number % 30]}"
        return symbols + check_character(symbols)

    def _new_id(self) -> str:
        return str(UUID(int=self._rng.getrandbits(128), version=4))

    # What the network does.

    def _start(self) -> bool:
        holder, tab = self._rng.choice(self._holders), self._rng.randrange(TABS)
        return self._send(holder, tab, holder.phone.start(tab))

    def _send(self, holder: Holder, tab: int, request: dict[str, Any] | None) -> bool:
        if request is None:
            return False
        # Small pages, so that a pull takes several.
        request = {**request, "limit": self._rng.randint(1, LIMIT_MAX)}
        self._messages.append(Message(holder, tab, encoded(request), request))
        return True

    def _pick(self, answered: bool) -> Message | None:
        found = [message for message in self._messages if (message.answer is not None) == answered]
        return self._rng.choice(found) if found else None

    def _deliver(self) -> bool:
        """Any request on its way arrives, in whatever order they were sent."""
        message = self._pick(answered=False)
        if message is None:
            return False
        message.answer = self._at_home(message)
        self._old.append(message)
        return True

    def _answer(self) -> bool:
        message = self._pick(answered=True)
        if message is None:
            return False
        self._messages.remove(message)
        self._hear(message, message.answer)
        return True

    def _hear(self, message: Message, answer: dict[str, Any] | None) -> None:
        if message.tab is not None:
            self._send(message.holder, message.tab, message.holder.phone.receive(message.tab, answer))

    def _drop(self) -> bool:
        """A request never arrives, or its answer never comes back, which no phone can tell apart."""
        if not self._messages:
            return False
        message = self._messages.pop(self._rng.randrange(len(self._messages)))
        self._hear(message, None)
        return True

    def _repeat(self) -> bool:
        """The network, or a phone that gave up waiting, sends what home has long answered."""
        if not self._old:
            return False
        self._at_home(self._rng.choice(self._old))
        return True

    def _cut(self) -> bool:
        message = self._pick(answered=False)
        if message is None:
            return False
        self._messages.remove(message)
        status, _ = self._home.send(message.holder.token, message.body[: self._rng.randrange(len(message.body))])
        assert 400 <= status < 500, status
        self._hear(message, None)
        return True

    def _at_home(self, message: Message) -> dict[str, Any]:
        status, answer = self._home.send(message.holder.token, message.body)
        assert status == 200, answer
        told = [each["outcome"] for each in answer["results"]]
        expected = [self._expect(message.holder, change) for change in message.request["changes"]]
        assert told == expected, (expected, message.request["changes"], answer["results"])
        return dict(answer)

    def _expect(self, holder: Holder, change: dict[str, Any]) -> str:
        bad = holder.entered[change["n"]][1]
        return self._model.take(change, holder.device, holder.role, self._clock, bad)

    # What else goes wrong.

    def _kill_phone(self) -> None:
        holder = self._rng.choice(self._holders)
        holder.phone.kill()
        for message in self._messages:
            if message.holder is holder:
                message.tab = None
        self._messages = [each for each in self._messages if each.tab is not None or each.answer is None]

    def _turn_clock(self) -> None:
        self._rng.choice(self._holders).clock_error = timedelta(seconds=self._rng.uniform(-YEAR_S, YEAR_S))

    def _kill_server(self) -> None:
        self._home.die()

    def _kill_server_within(self) -> bool:
        message = self._pick(answered=False)
        if message is None:
            return False
        self._messages.remove(message)
        before, was, clock_was = self._home.known(), self._model.copied(), self._clock.copied()
        self._home.send_and_die(message.holder.token, message.body, int(10 ** self._rng.uniform(0, 4)))
        for change in message.request["changes"]:
            self._expect(message.holder, change)
        assert self._home.known() in (before, self._model.known()), "a request is taken in whole or not at all"
        if self._home.known() == before:
            self._model, self._clock.last = was, clock_was.last
        self._hear(message, None)
        return True

    def _back_up(self) -> None:
        self._backups.append((self._home.back_up(), self._model.copied()))

    def _restore(self) -> bool:
        if not self._backups:
            return False
        path, model = self._rng.choice(self._backups)
        self._home.restore(path)
        self._model = model.copied()
        # No connection outlives the server that it led to.
        self._old.clear()
        lost, self._messages = self._messages, []
        for message in lost:
            self._hear(message, None)
        return True

    # How it must end.

    def _settle(self) -> None:
        """The network is good again: every phone syncs until nothing waits and nothing is new."""
        for message in self._messages:
            if message.tab is not None:
                message.holder.phone.receive(message.tab, None)
        self._messages.clear()
        for _ in range(SETTLING_ROUNDS_MAX):
            before = len(self._model.taken)
            for holder in self._holders:
                request = holder.phone.start(0)
                while request is not None:
                    answer = self._at_home(Message(holder, 0, encoded(request), request))
                    request = holder.phone.receive(0, answer)
            if len(self._model.taken) == before:
                return
        raise AssertionError("The phones never come to an end.")

    def _judge(self) -> None:
        home = self._home.view()
        assert home == self._model.view(), "home holds what the model holds"
        for holder in self._holders:
            view = {record: (kind, _without_former(fields)) for record, (kind, fields) in holder.phone.view().items()}
            assert view == home, "every phone shows what home holds"
        taken = Counter(self._home.taken().values())
        assert max(taken.values(), default=1) == 1, "no entry is home twice"
        sound = self._sound()
        for holder in self._holders:
            unsent, parked = holder.phone.pocket()
            assert unsent == 0, "the queue drains"
            for n in holder.entered:
                places = ((holder.device, n) in taken) + (n in parked)
                assert places == 1, f"entry {n} is home or told as refused, in one place"
                assert n not in parked or (holder.device, n) not in sound, f"entry {n} is refused for another's fault"
        self._judge_own_edits(home)
        assert self._home.faults() == []

    def _judge_own_edits(self, home: dict[str, tuple[str, dict[str, Any]]]) -> None:
        """What one phone alone edited is as it left it last, whatever its clock said and however late it came."""
        taken = set(self._home.taken().values())
        edits: dict[str, dict[str, dict[int, dict[str, Any]]]] = {}
        for holder in self._holders:
            for n, (entry, _) in holder.entered.items():
                if (holder.device, n) in taken:
                    edits.setdefault(entry["record"], {}).setdefault(holder.device, {})[n] = entry["set"]
        for record, by_device in edits.items():
            if len(by_device) == 1:
                (own,) = by_device.values()
                left: dict[str, Any] = {}
                for n in sorted(own):
                    left |= own[n]
                shown = home[record][1]
                kept = {name: value for name, value in left.items() if value is not None and name != "voided"}
                assert {name: shown[name] for name in kept if name in shown} == kept, "the last edit stands"

    def _sound(self) -> set[tuple[str, int]]:
        """Entries that nothing stands against: not bad, no tag in dispute, nor hanging on an entry that is not so."""
        wrong: set[str] = set()
        entries = [(h.device, n, *told) for h in self._holders for n, told in h.entered.items()]
        given = Counter(tag for _, _, entry, _ in entries for tag in {entry["set"].get("tag")} if tag)
        disputed = {tag for tag, count in given.items() if count > 1}
        creating = [told for told in entries if set(REQUIRED[told[2]["kind"]]) <= told[2]["set"].keys()]
        count = -1
        while len(wrong) > count:
            count = len(wrong)
            wrong |= {e["record"] for _, _, e, bad in creating if bad or self._hangs_on(e, wrong, disputed)}
        return {
            (device, n)
            for device, n, entry, bad in entries
            if not bad and entry["record"] not in wrong and not self._hangs_on(entry, wrong, disputed)
        }

    def _hangs_on(self, entry: dict[str, Any], wrong: set[str], disputed: set[str]) -> bool:
        named = [entry["set"][name] for name in REFERS.get(entry["kind"], {}) if name in entry["set"]]
        return entry["set"].get("tag") in disputed or any(record in wrong for record in named)


def _without_former(fields: dict[str, Any]) -> dict[str, Any]:
    return next(iter(shown([{"id": "", "kind": "", "fields": fields}]).values()))[1]
