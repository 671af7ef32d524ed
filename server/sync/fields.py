"""The fields of every kind of record: what a value must be, in the words that a refusal shows.

Pure. A check takes a value from JSON and returns it as it is kept, or raises ValueError with what to do.
Bounds are wide: they stop slips of the thumb (a leaf count of 5 million), not unusual trees.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from server.wording.said import say

Check = Callable[[Any], Any]
_UUID_SHAPE = {"type": "string", "format": "uuid"}

COVERS = ("open", "shade", "porch", "glasshouse", "polytunnel", "low_tunnel", "indoors", "ground")
STANDINGS = ("trial", "keeper", "retired")
CAUSES = ("sun", "wind", "cold", "heat", "drought", "wet", "pest", "disease", "handling", "age")
TASKS = (
    "pot_up", "pot_down", "root_prune", "prune", "rejuvenate", "pinch", "thin_breba", "thin_main",
    "feed", "water", "spray", "shelter", "uncover", "take_cuttings", "graft",
)  # fmt: skip
FRUITS = ("breba", "main")
DECISIONS = ("keep", "trial_again", "give_away", "retire")
PROPAGATIONS = ("cutting", "layer", "graft", "seed", "division")
# What a job may ask for besides the work that is done on a tree.
JOBS = (*TASKS, "move", "look", "reprint_tag", "harvest", "measure", "other")
NAME_LENGTH_MAX = 120
NOTE_LENGTH_MAX = 2000
PLACES_OF_A_ROUND_MAX = 200
TREES_OF_A_WALK_MAX = 1000
# Longer text is no time; and what is kept of earlier ones stays small.
MOMENT_LENGTH_MAX = 40
INSTANTS_MAX = 16_384
MARKED_SHOOTS_MAX = 12

_NUMBERS = (int, float)  # and not bool, which is an int to isinstance()
_UUID = re.compile(r"[0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}")
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d{1,9})?(?:Z|[+-]\d\d:\d\d)")
_DATE = re.compile(r"\d{4}-\d\d-\d\d")
SHA256 = re.compile(r"[0-9a-f]{64}")
_COUNT = re.compile(r"[0-9]{1,6}")
_MONTH_DAY = re.compile(r"\d\d-\d\d")
_COUNTRY = re.compile(r"[A-Z]{3}")
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f]")


def _shaped(check: Check, **shape: Any) -> Check:
    """Let a check tell the JSON Schema of what it takes, for the description of the API; calling it costs no more."""
    check.shape = shape  # type: ignore[attr-defined]
    return check


def shape_of(check: Check) -> dict[str, Any]:
    """The JSON Schema of what a check takes; the check itself may be narrower."""
    shape: dict[str, Any] = getattr(check, "shape")  # noqa: B009 functions declare no such attribute
    return shape


def whole(low: int, high: int) -> Check:
    """A whole number within bounds; 12.0 counts as 12."""

    def check(value: Any) -> int:
        if type(value) is int and low <= value <= high:
            return value
        if isinstance(value, bool) or not isinstance(value, (int, float)) or value % 1:
            raise ValueError(say("must be a whole number from {low} to {high}", low=low, high=high))
        if not low <= value <= high:
            told = say("is {value}: must lie between {low} and {high}; count again or leave it empty")
            raise ValueError(told.filled(value=_short(value), low=low, high=high))
        return int(value)

    return _shaped(check, type="integer", minimum=low, maximum=high)


def number(low: float, high: float) -> Check:
    """A number within bounds."""

    def check(value: Any) -> float:
        if type(value) in _NUMBERS and low <= value <= high:
            return value  # type: ignore[no-any-return]
        if isinstance(value, bool) or not isinstance(value, (int, float)):
            raise ValueError(say("must be a number from {low:g} to {high:g}", low=low, high=high))
        if not low <= value <= high:
            told = say("is {value}: must lie between {low:g} and {high:g}; measure again or leave it empty")
            raise ValueError(told.filled(value=_short(value), low=low, high=high))
        return value

    return _shaped(check, type="number", minimum=low, maximum=high)


def text(length_max: int) -> Check:
    """Text of bounded length without control characters; spaces around it are dropped."""

    def check(value: Any) -> str:
        if not isinstance(value, str):
            raise ValueError(say("must be text"))
        if len(value) > length_max:
            raise ValueError(say("has {length} characters: at most {most} fit", length=len(value), most=length_max))
        plain = value.isascii() and value.isprintable()
        if not plain and (_CONTROL.search(value) or _has_surrogate(value)):
            raise ValueError(say("has characters that can't be kept; type it again"))
        return value.strip()

    return _shaped(check, type="string", maxLength=length_max)


def one_of(words: tuple[str, ...]) -> Check:
    """One word of a list."""
    listed = ", ".join(words)

    def check(value: Any) -> str:
        if not isinstance(value, str) or value not in words:
            raise ValueError(say("must be one of: {known}", known=listed))
        return value

    return _shaped(check, type="string", enum=list(words))


def several_of(words: tuple[str, ...]) -> Check:
    """Words of a list, separated by semicolons; each is kept once."""
    listed = ", ".join(words)

    def check(value: Any) -> str:
        parts = [part.strip() for part in value.split(";")] if isinstance(value, str) else [""]
        parts = [part for part in parts if part] if isinstance(value, str) else parts
        if any(part not in words for part in parts):
            raise ValueError(say("must be words from this list, separated by “;”: {known}", known=listed))
        return ";".join(dict.fromkeys(parts))

    return _shaped(check, type="string", description=f"words separated by “;”: {listed}")


def counts(places_max: int, count_max: int) -> Check:
    """Whole numbers in an order that stays, separated by semicolons; an empty place is one that was not found."""
    must = say(
        "must be 1 to {places} whole numbers from 0 to {most}, separated by “;”; leave a place empty if not found",
        places=places_max,
        most=count_max,
    )

    def check(value: Any) -> str:
        parts = [part.strip() for part in value.split(";")] if isinstance(value, str) else []
        written = [part for part in parts if part]
        good = all(_COUNT.fullmatch(part) and int(part) <= count_max for part in written)
        if not written or len(parts) > places_max or not good:
            raise ValueError(must)
        return ";".join(str(int(part)) if part else "" for part in parts)

    return _shaped(check, type="string", description=must.removeprefix("must be "))


def flag(value: Any) -> bool:
    """True or false."""
    if not isinstance(value, bool):
        raise ValueError(say("must be true or false"))
    return value


def reference(value: Any) -> str:
    """The id of another record."""
    if not isinstance(value, str) or not _UUID.fullmatch(value):
        raise ValueError(say("must be a record's id (a UUID)"))
    return value.lower()


def references(count_max: int) -> Check:
    """A list of record ids."""

    def check(value: Any) -> list[str]:
        if not isinstance(value, list) or len(value) > count_max:
            raise ValueError(say("must be a list of at most {most} record ids", most=count_max))
        return [reference(each) for each in value]

    return _shaped(check, type="array", items=_UUID_SHAPE, maxItems=count_max)


def moment(value: Any) -> str:
    """A time as RFC 3339 with offset, kept as it was written."""
    if isinstance(value, str) and len(value) <= MOMENT_LENGTH_MAX and instant_ms(value) is not None:
        return value
    raise ValueError(say("must be a time with offset, such as 2026-05-03T08:30:00+02:00"))


@lru_cache(maxsize=INSTANTS_MAX)
def instant_ms(moment_text: str) -> int | None:
    """An RFC 3339 time with offset, from 1900 on, in milliseconds since 1970-01-01 UTC; None for any other text.

    A batch asks three times for each of its moments: kept, they cost one reading.
    """
    if not _TIME.fullmatch(moment_text):
        return None
    try:
        parsed = datetime.fromisoformat(moment_text)
        return int(parsed.timestamp() * 1000) if parsed.year >= 1900 else None
    except (ValueError, OverflowError):
        return None


def day(value: Any) -> str:
    """A calendar day, ISO 8601."""
    if isinstance(value, str) and _DATE.fullmatch(value):
        try:
            if date.fromisoformat(value).year >= 1900:
                return value
        except ValueError:
            pass
    raise ValueError(say("must be a date such as 2026-05-03"))


def month_day(value: Any) -> str:
    """A day of any year, as month and day."""
    if isinstance(value, str) and _MONTH_DAY.fullmatch(value):
        try:
            # A leap year, so that 29 February is one.
            return date.fromisoformat(f"2000-{value}").isoformat()[5:]
        except ValueError:
            pass
    raise ValueError(say("must be a month and day such as 04-20"))


def country(value: Any) -> str:
    """A country by its three letters, ISO 3166-1 alpha-3."""
    if not isinstance(value, str) or not _COUNTRY.fullmatch(value):
        raise ValueError(say("must be a country's three letters, such as ITA"))
    return value


def sha256(value: Any) -> str:
    """A SHA-256 in lower-case hexadecimal."""
    if not isinstance(value, str) or not SHA256.fullmatch(value):
        raise ValueError(say("must be the SHA-256 of the file: 64 characters 0-9 a-f"))
    return value


def tag_text(value: Any) -> str:
    """A tag code's text; the command that takes it in checks the check character."""
    return str(text(300)(value))


_shaped(flag, type="boolean")
_shaped(reference, **_UUID_SHAPE)
_shaped(moment, type="string", format="date-time", description="with offset, from 1900 on")
_shaped(day, type="string", format="date", description="from 1900 on")
_shaped(month_day, type="string", pattern="^[0-9]{2}-[0-9]{2}$", description="month and day, of any year")
_shaped(country, type="string", pattern="^[A-Z]{3}$", description="ISO 3166-1 alpha-3")
_shaped(sha256, type="string", pattern="^[0-9a-f]{64}$")
_shaped(tag_text, type="string", maxLength=300, description="a tag code, or an address that ends in one")


def _short(value: float) -> str:
    return str(value)[:20]


def _has_surrogate(value: str) -> bool:
    return not value.isascii() and any("\ud800" <= character <= "\udfff" for character in value)


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of record: a check a field, what a new one must have, and what it refers to."""

    fields: dict[str, Check]
    required: tuple[str, ...]
    refers: dict[str, str]
    # The field that says when a fact happened; None for cards.
    at: str | None = None
    # Fields that list records, and the kind of these.
    lists: dict[str, str] = field(default_factory=dict)


_NOTE = {"note": text(NOTE_LENGTH_MAX)}
_ROUND = {"round": reference}

KINDS: dict[str, Kind] = {
    "variety": Kind(
        {"variety": text(NAME_LENGTH_MAX), "species": text(NAME_LENGTH_MAX), "origin_country": country, **_NOTE},
        ("variety",),
        {},
    ),
    "place": Kind(
        {
            "place": text(NAME_LENGTH_MAX),
            "cover": one_of(COVERS),
            "light_percent": number(0, 100),
            "heated": flag,
            "latitude": number(-90, 90),
            "walk": references(TREES_OF_A_WALK_MAX),
            **_NOTE,
        },
        ("place",),
        {},
        lists={"walk": "tree"},
    ),
    "tree": Kind(
        {
            "tag": tag_text,
            "variety": reference,
            "place": reference,
            "pot_litres": number(0.1, 2000),
            "source": text(NAME_LENGTH_MAX),
            "started_on": day,
            "standing": one_of(STANDINGS),
            "position": text(40),
            "marked_shoots": whole(0, MARKED_SHOOTS_MAX),
            "parent": reference,
            "batch": reference,
            "donor_number": text(NAME_LENGTH_MAX),
            "decision": one_of(DECISIONS),
            "decided_on": day,
            **_NOTE,
        },
        ("tag",),
        {"variety": "variety", "place": "place", "parent": "tree", "batch": "batch"},
    ),
    "batch": Kind(
        {
            "batch": text(NAME_LENGTH_MAX),
            "variety": reference,
            "parent": reference,
            "method": one_of(PROPAGATIONS),
            "taken_on": day,
            "taken": whole(0, 5000),
            "rooted": whole(0, 5000),
            "failed": whole(0, 5000),
            **_NOTE,
        },
        ("batch",),
        {"variety": "variety", "parent": "tree"},
    ),
    "round": Kind(
        {"started_at": moment, "finished_at": moment, "places": references(PLACES_OF_A_ROUND_MAX), **_NOTE},
        ("started_at",),
        {},
        "started_at",
        {"places": "place"},
    ),
    "observation": Kind(
        {
            "tree": reference,
            **_ROUND,
            "seen_at": moment,
            "shoots": whole(0, 5000),
            "leaves_per_shoot": number(0, 500),
            "leaves": whole(0, 100_000),
            "leaves_fallen": whole(0, 100_000),
            "shoot_cm": number(0, 500),
            "fruit_breba": whole(0, 5000),
            "fruit_main": whole(0, 5000),
            "damage_percent": number(0, 100),
            "causes": several_of(CAUSES),
            "bbch": whole(0, 99),
            "soil": text(40),
            "shoot_leaves": counts(MARKED_SHOOTS_MAX, 500),
            "leaf_cm2": number(0.1, 5000),
            "part": text(40),
            **_NOTE,
        },
        ("tree", "seen_at"),
        {"tree": "tree", "round": "round"},
        "seen_at",
    ),
    "move": Kind(
        {"tree": reference, **_ROUND, "moved_at": moment, "to_place": reference},
        ("tree", "moved_at", "to_place"),
        {"tree": "tree", "round": "round", "to_place": "place"},
        "moved_at",
    ),
    "work": Kind(
        {
            "tree": reference,
            **_ROUND,
            "done_at": moment,
            "task": one_of(TASKS),
            "amount": number(0, 2000),
            **_NOTE,
        },
        ("tree", "done_at", "task"),
        {"tree": "tree", "round": "round"},
        "done_at",
    ),
    "reading": Kind(
        {"place": reference, "date": day, "t_min_c": number(-60, 70), "t_max_c": number(-60, 70)},
        ("place", "date"),
        {"place": "place"},
    ),
    "harvest": Kind(
        {
            "tree": reference,
            "picked_at": moment,
            "fruit": one_of(FRUITS),
            "weight_g": number(0, 100_000),
            "quality": whole(1, 5),
        },
        ("tree", "picked_at"),
        {"tree": "tree"},
        "picked_at",
    ),
    "photo": Kind(
        {"sha256": sha256, "tree": reference, "observation": reference, "taken_at": moment, **_NOTE},
        ("sha256", "taken_at"),
        {"tree": "tree", "observation": "observation"},
        "taken_at",
    ),
    "job": Kind(
        {
            "job": text(NAME_LENGTH_MAX),
            "key": text(NAME_LENGTH_MAX),
            "task": one_of(JOBS),
            "tree": reference,
            "place": reference,
            "to_place": reference,
            "amount": number(0, 2000),
            "due_on": day,
            "put_off_to": day,
            "done_on": day,
            "dropped": flag,
            **_NOTE,
        },
        ("job", "task"),
        {"tree": "tree", "place": "place", "to_place": "place"},
    ),
    "lesson": Kind(
        {
            "lesson": text(NOTE_LENGTH_MAX),
            "variety": reference,
            "place": reference,
            "tree": reference,
            "on_day": month_day,
            "degree_days": number(0, 10_000),
            "task": one_of(TASKS),
            "learned_on": day,
            "heeded_on": day,
        },
        ("lesson",),
        {"variety": "variety", "place": "place", "tree": "tree"},
    ),
}

# What a helper may write; cards are the owner's.
HELPER_KINDS = frozenset({"round", "observation", "move", "work", "reading", "harvest", "photo", "job"})
