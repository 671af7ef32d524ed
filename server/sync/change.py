"""A change as it travels: parsed from JSON, checked for shape. Pure; the only imports are stdlib and our errors."""

from __future__ import annotations

import re
from typing import Any, NamedTuple

from server.errors import FieldProblem
from server.sync.fields import KINDS, flag, instant_ms, moment
from server.wording.said import Said, say, words_of

N_MAX = 2**53 - 1  # JavaScript counts no further exactly
_UUID = re.compile(r"[0-9a-fA-F]{8}(?:-[0-9a-fA-F]{4}){3}-[0-9a-fA-F]{12}")
_KNOWN_KEYS = frozenset({"id", "n", "kind", "record", "edited_at", "set"})


class MalformedChange(ValueError):
    """The change can't be taken as one; carries the fields at fault."""

    def __init__(self, problems: list[FieldProblem]) -> None:
        super().__init__(problems[0].message)
        self.problems = tuple(problems)


class Change(NamedTuple):
    """One edit of one record by one device: the fields it sets (None clears one) and when it was made."""

    id: str
    n: int
    kind: str
    record: str
    edited_at: str
    edited_ms: int
    set: dict[str, Any]


def parse_change(raw: Any) -> Change:
    """Check one change of a sync request; times stay as written, ids come in lower case.

    Raises MalformedChange with one problem a field; every field is looked at.
    """
    if not isinstance(raw, dict):
        raise MalformedChange([FieldProblem("", say("A change must be a JSON object."))])
    problems: list[FieldProblem] = []
    if not raw.keys() <= _KNOWN_KEYS:
        unknown = say("Unknown key; a newer server may know it.")
        problems += [FieldProblem(key, unknown) for key in raw.keys() - _KNOWN_KEYS]
    identity = _id_of(raw, "id", problems)
    record = _id_of(raw, "record", problems)
    n = raw.get("n")
    if not isinstance(n, int) or isinstance(n, bool) or not 1 <= n <= N_MAX:
        problems.append(FieldProblem("n", say("must be a whole number from 1")))
    edited_at, edited_ms = _moment_of(raw, problems)
    kind = raw.get("kind")
    values = raw.get("set")
    if not isinstance(kind, str) or kind not in KINDS:
        problems.append(FieldProblem("kind", say("must be one of: {known}", known=", ".join(KINDS))))
    elif not isinstance(values, dict) or not values:
        problems.append(FieldProblem("set", say("must name at least one field")))
    else:
        values = check_fields(kind, values, problems)
    if problems:
        raise MalformedChange(problems)
    return Change(identity, n, kind, record, edited_at, edited_ms, values)  # type: ignore[arg-type]


def check_fields(kind: str, values: dict[str, Any], problems: list[FieldProblem]) -> dict[str, Any]:
    """The values as they are kept; appends a problem for each field at fault.

    Text that is empty once trimmed clears its field, like null.
    """
    checks = KINDS[kind].fields
    kept: dict[str, Any] = {}
    for field, value in values.items():
        check = checks.get(field)
        try:
            if check is None:
                if field == "voided":
                    kept[field] = flag(value)
                else:
                    unknown = say("Unknown field; a {kind} has: {known}.", kind=kind, known=", ".join(checks))
                    problems.append(FieldProblem(str(field)[:80], unknown))
            elif value is None:
                kept[field] = None
            else:
                checked = check(value)
                kept[field] = None if checked == "" else checked
        except ValueError as error:
            problems.append(FieldProblem(field, _of_field(field, error)))
    return kept


def _of_field(field: str, error: ValueError) -> Said:
    return say("{field} {problem}.", field=field, problem=words_of(error))


def milliseconds(moment_text: str) -> int:
    """An RFC 3339 time that `moment` let through, in milliseconds since 1970-01-01 UTC."""
    found = instant_ms(moment_text)
    if found is None:
        raise ValueError(say("{text} is no time with offset", text=moment_text[:40]))
    return found


def _id_of(raw: dict[str, Any], key: str, problems: list[FieldProblem]) -> str:
    value = raw.get(key)
    if isinstance(value, str) and _UUID.fullmatch(value):
        return value.lower()
    problems.append(FieldProblem(key, say("must be a UUID")))
    return ""


def _moment_of(raw: dict[str, Any], problems: list[FieldProblem]) -> tuple[str, int]:
    try:
        text = moment(raw.get("edited_at"))
        return text, milliseconds(text)
    except ValueError as error:
        problems.append(FieldProblem("edited_at", _of_field("edited_at", error)))
        return "", 0
