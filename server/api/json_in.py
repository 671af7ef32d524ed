"""JSON as it comes in: strict, so that what one program refuses another does not silently take otherwise."""

from __future__ import annotations

import json
import math
from typing import Any

from werkzeug.exceptions import BadRequest

# A sync request is four levels deep and a round's places make it five; far deeper input only costs stack.
DEPTH_MAX = 12
# Enough for every number that JavaScript counts exactly.
INTEGER_DIGITS_MAX = 20


def read_json(data: bytes) -> Any:
    """The value in `data`. Raises BadRequest for what RFC 8259 (with unique keys, RFC 7493) does not allow.

    Half surrogate pairs pass: a phone's note may hold one, and the field's own check refuses that one field.
    """
    try:
        value = json.loads(
            data.decode("utf-8"),
            object_pairs_hook=_unique,
            parse_int=_bounded_int,
            parse_float=_finite,
            parse_constant=_no_constant,
        )
    except RecursionError as error:
        raise BadRequest("The JSON is nested too deeply.") from error
    except UnicodeDecodeError as error:
        raise BadRequest(f"The body is not UTF-8 (byte {error.start}); send JSON in UTF-8.") from error
    except ValueError as error:
        raise BadRequest(f"The body is not JSON: {error}.") from error
    _check_depth(value)
    return value


def is_whole_text(value: Any) -> bool:
    """Whether all text in a value can be kept: no half surrogate pair, no NUL."""
    try:
        text = json.dumps(value, ensure_ascii=False)
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return "\\u0000" not in text


def _unique(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice in one object")
    return found


def _bounded_int(text: str) -> int:
    if len(text) > INTEGER_DIGITS_MAX:
        raise ValueError(f"a number has {len(text)} digits")
    return int(text)


def _finite(text: str) -> float:
    number = float(text)
    if not math.isfinite(number):
        raise ValueError(f"the number {text[:20]} is too large")
    return number


def _no_constant(text: str) -> None:
    raise ValueError(f"{text} is not a JSON number")


def _check_depth(value: Any) -> None:
    level = [value]
    for _ in range(DEPTH_MAX):
        level = [
            child
            for node in level
            for child in (node.values() if isinstance(node, dict) else node if isinstance(node, list) else ())
            if isinstance(child, (dict, list))
        ]
        if not level:
            return
    raise BadRequest(f"The JSON is nested more than {DEPTH_MAX} levels deep.")
