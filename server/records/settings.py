"""The collection's settings: its name, time zone, public address, and what tags say beside code and variety."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import asdict, dataclass
from typing import Any
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo

from server.errors import FieldProblem, Refused
from server.records.database import get_setting, set_setting, write
from server.records.queries import time_zone
from server.wording.said import say, words_of

NAME_DEFAULT = "My trees"
NAME_LENGTH_MAX = 80
# With "/T/" and a code behind it, an address of this length still makes a code that is read from a tag.
PUBLIC_URL_LENGTH_MAX = 80
# What a tag can say beside code and variety, in the words of the tree's own fields.
TAG_EXTRA = ("species", "source", "started_on", "pot_litres", "place", "position", "standing", "note")
# The address under which the server last ran, so that `leafwalk pair` can print it.
SERVED_AT = "served_at"
# Where `leafwalk serve` answers unless it is told otherwise.
ADDRESS_DEFAULT = "http://127.0.0.1:8617"
# Only these characters keep a tag's code in its densest mode (ISO/IEC 18004, alphanumeric).
_HOST = re.compile(r"[a-z0-9](?:[a-z0-9.-]*[a-z0-9])?")


@dataclass(frozen=True, slots=True)
class Settings:
    """What the owner can set; `public_url` is None where the collection has no address of its own."""

    collection: str
    time_zone: str
    public_url: str | None
    tag_extra: list[str]


def read_settings() -> Settings:
    """The settings as they are, with defaults where nothing was set."""
    return Settings(
        collection=get_setting("collection", NAME_DEFAULT),
        time_zone=time_zone().key,
        public_url=get_setting("public_url"),
        tag_extra=get_setting("tag_extra", []),
    )


def save_settings(changes: dict[str, Any]) -> Settings:
    """Keep the settings that `changes` names, all or none, and return them all.

    Raises Refused with a problem a field.
    """
    checks: dict[str, Callable[[Any], Any]] = {
        "collection": _name,
        "time_zone": _zone,
        "public_url": _public_url,
        "tag_extra": _extra,
    }
    kept: dict[str, Any] = {}
    problems = []
    for name, value in changes.items():
        try:
            kept[name] = checks[name](value)
        except ValueError as error:
            problems.append(FieldProblem(name, words_of(error)))
    if problems:
        raise Refused(problems[0].message, tuple(problems))
    with write():
        for name, value in kept.items():
            set_setting(name, value)
    return read_settings()


def settings_json() -> dict[str, Any]:
    """The settings as a JSON object."""
    return asdict(read_settings())


def served_address() -> str | None:
    """Where the server can be reached: the public address where one is set, else where it last ran."""
    found = get_setting("public_url") or get_setting(SERVED_AT)
    return None if found is None else str(found)


def note_address(address: str) -> None:
    """Remember where the server runs."""
    with write():
        set_setting(SERVED_AT, address)


def pairing_url(code: str) -> str:
    """The address that opens the web client with a pairing code filled in; before the server first ran, its default."""
    return f"{served_address() or ADDRESS_DEFAULT}/#/pair/{code}"


def tag_address(code: str) -> str:
    """What a tag's square code holds: the bare code, or the public address of the tag in capital letters."""
    base = get_setting("public_url")
    return code if base is None else f"{base}/t/{code}".upper()


def _name(value: str) -> str:
    name = " ".join(value.split())
    if not 1 <= len(name) <= NAME_LENGTH_MAX:
        raise ValueError(say("The collection's name needs 1 to {most} characters.", most=NAME_LENGTH_MAX))
    return name


def _zone(value: str) -> str:
    try:
        return ZoneInfo(value).key
    except (ValueError, OSError, LookupError) as error:
        raise ValueError(
            say("“{name}” is no time zone; give a name such as Europe/Oslo or America/Denver.", name=value[:40])
        ) from error


def _public_url(value: str | None) -> str | None:
    if value is None or not value.strip():
        return None
    try:
        parts = urlsplit(value.strip().lower())
        port = parts.port
    except ValueError as error:
        raise ValueError(
            say("“{text}” is no address; give one such as https://trees.example.org.", text=value[:40])
        ) from error
    host = parts.hostname or ""
    bare = parts.path in ("", "/") and not (parts.query or parts.fragment or parts.username or parts.password)
    if parts.scheme not in ("https", "http") or not bare or not _HOST.fullmatch(host):
        raise ValueError(say("The public address is https:// and a host name of letters, digits, dots and hyphens."))
    url = f"{parts.scheme}://{host}" + (f":{port}" if port else "")
    if len(url) > PUBLIC_URL_LENGTH_MAX:
        told = say("The public address has {length} characters; with {most} a tag is readable.")
        raise ValueError(told.filled(length=len(url), most=PUBLIC_URL_LENGTH_MAX))
    return url


def _extra(value: list[str]) -> list[str]:
    unknown = [word for word in value if word not in TAG_EXTRA]
    if unknown:
        told = say("“{word}” can't be printed on tags; choose from: {known}.")
        raise ValueError(told.filled(word=unknown[0][:40], known=", ".join(TAG_EXTRA)))
    return list(dict.fromkeys(value))
