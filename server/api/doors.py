"""What stands around a route: who may come in, what comes in, and what goes out."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import wraps
from typing import Any, TypeVar

import orjson
from flask import Response, g, has_request_context, request
from marshmallow import Schema, ValidationError

from server.api.json_in import is_whole_text, read_json
from server.errors import FieldProblem, NotAllowed, Refused, TooLarge, Unauthorised
from server.records.devices import Device, device_by_token
from server.wording.manner import ENGLISH, LANGUAGES, PLAIN, Manner, units_from
from server.wording.said import joined, say

View = TypeVar("View", bound=Callable[..., Any])
JSON_TYPE = "application/json"

SMALL_BYTES_MAX = 64 * 1024
TOKEN_LENGTH_MAX = 200
UNITS_LENGTH_MAX = 40
MANNER_HEADERS = ("Accept-Language", "Leafwalk-Units")


@dataclass(frozen=True)
class Door:
    """What stands around a route, for the description of the API: who may call it, what it takes and gives.

    `who` is None for anyone; `body` a JSON body's schema, `body_type` the media type of any other body.
    """

    who: str | None = None
    query: type[Schema] | None = None
    body: type[Schema] | None = None
    body_type: str | None = None
    bytes_max: int | None = None
    answer: type[Schema] | None = None
    media_type: str | None = JSON_TYPE
    status: int = 200


def door_of(view: Callable[..., Any]) -> Door:
    """What stands around a route."""
    door: Door = getattr(view, "door", Door())
    return door


def _note(view: Callable[..., Any], **known: Any) -> Any:
    """Write on the view what one more decorator knows of it; `wraps` carries the note outward."""
    view.door = replace(door_of(view), **known)  # type: ignore[attr-defined]
    return view


def sends(
    media_type: str | None, status: int = 200, takes_type: str | None = None, bytes_max: int | None = None
) -> Callable[[View], View]:
    """Note what a route sends that makes its answer itself (None: an empty one), and the file that it takes."""
    return lambda view: _note(view, media_type=media_type, status=status, body_type=takes_type, bytes_max=bytes_max)


def paired(view: View) -> View:
    """Any paired device may come in; `this_device()` is who it is."""

    @wraps(view)
    def checked(*args: Any, **kwargs: Any) -> Any:
        g.device = device_by_token(bearer_token(request.headers.get("Authorization", "")))
        return view(*args, **kwargs)

    return _note(checked, who="paired")  # type: ignore[no-any-return]


def owners_only(view: View) -> View:
    """Only a device paired as owner may come in."""

    @wraps(view)
    @paired
    def checked(*args: Any, **kwargs: Any) -> Any:
        if this_device().role != "owner":
            raise NotAllowed(say("Only the owner's devices may do that; this one is paired as a helper."))
        return view(*args, **kwargs)

    return _note(checked, who="owner")  # type: ignore[no-any-return]


def this_device() -> Device:
    """The device that asks; inside a route that is `paired` or for `owners_only`."""
    device: Device = g.device
    return device


def bearer_token(header: str) -> str:
    """The token in an Authorization header. Raises Unauthorised where there is none."""
    scheme, _, token = header.partition(" ")
    token = token.strip()
    if scheme.lower() != "bearer" or not token or len(token) > TOKEN_LENGTH_MAX or not token.isascii():
        raise Unauthorised(say("This needs a paired device: send its token as “Authorization: Bearer …”."))
    return token


def read_body(bytes_max: int) -> bytes:
    """The request's body. Raises TooLarge over the limit."""
    request.max_content_length = bytes_max
    if (request.content_length or 0) > bytes_max:
        told = say("The request has {size} bytes; at most {most} are taken here.")
        raise TooLarge(told.filled(size=request.content_length, most=bytes_max))
    return request.get_data(cache=False)


def takes(schema: type[Schema], bytes_max: int = SMALL_BYTES_MAX, any_text: bool = False) -> Callable[[View], View]:
    """The body is JSON of this shape; the route gets it as `body`.

    `any_text` lets half surrogate pairs through, for a route that judges each field itself.
    """
    known = schema()

    def around(view: View) -> View:
        @wraps(view)
        def checked(*args: Any, **kwargs: Any) -> Any:
            _not_from_elsewhere()
            value = read_json(read_body(bytes_max))
            if not any_text and not is_whole_text(value):
                raise Refused(say("The text has characters that can't be kept; type it again."))
            return view(*args, **kwargs, body=loaded(known, value))

        return _note(checked, body=schema, bytes_max=bytes_max)  # type: ignore[no-any-return]

    return around


def _not_from_elsewhere() -> None:
    """A page of another site can make a browser send text or a form here unasked, but not JSON.

    It could read no answer, but its wrong pairing codes would use up the tries of all open ones.
    Source: Fetch Standard, CORS-safelisted request headers.
    """
    if "Origin" in request.headers and request.mimetype != JSON_TYPE:
        raise Refused(say("A page has to send this as {type}.", type=JSON_TYPE))


def takes_query(schema: type[Schema]) -> Callable[[View], View]:
    """The query has this shape; the route gets it as `query`."""
    known = schema()

    def around(view: View) -> View:
        @wraps(view)
        def checked(*args: Any, **kwargs: Any) -> Any:
            twice = [name for name, values in request.args.lists() if len(values) > 1]
            if twice:
                raise Refused(say("{name} stands twice in the address; give it once.", name=twice[0]))
            return view(*args, **kwargs, query=loaded(known, request.args.to_dict()))

        return _note(checked, query=schema)  # type: ignore[no-any-return]

    return around


def loaded(schema: Schema, value: Any) -> dict[str, Any]:
    """`value` in the shape of a schema. Raises Refused with a problem a field."""
    try:
        shaped: dict[str, Any] = schema.load(value)
    except ValidationError as error:
        problems = tuple(_flat(error.messages))
        details = [
            say("{where}: {message}", where=each.field, message=each.message) if each.field else each.message
            for each in problems[:3]
        ]
        raise Refused(joined(details, "; "), problems) from error
    return shaped


def _flat(messages: Any, path: str = "") -> list[FieldProblem]:
    if isinstance(messages, dict):
        found = []
        for key, inner in messages.items():
            found += _flat(inner, path if key == "_schema" else f"{path}.{key}".strip("."))
        return found
    return [FieldProblem(path[:80], message if isinstance(message, str) else str(message)) for message in messages]


def gives(schema: type[Schema], status: int = 200) -> Callable[[View], View]:
    """The route's value goes out as JSON of this shape."""
    known = schema()

    def around(view: View) -> View:
        @wraps(view)
        def answered(*args: Any, **kwargs: Any) -> Response:
            return json_answer(known.dump(view(*args, **kwargs)), status)

        return _note(answered, answer=schema, status=status)  # type: ignore[no-any-return]

    return around


def json_answer(value: Any, status: int = 200) -> Response:
    """A value, with ready JSON in orjson's fragments, as a JSON answer; in ASCII where quoted input is no UTF-8.

    Its sentences are said in the asking phone's manner.
    """
    told = manner()
    try:
        text: bytes | str = (
            orjson.dumps(value)
            if told.is_plain
            else orjson.dumps(value, told.for_json, orjson.OPT_PASSTHROUGH_SUBCLASS)
        )
    except TypeError:
        text = json.dumps(value, separators=(",", ":"), default=lambda ready: orjson.loads(orjson.dumps(ready)))
    answer = Response(text, status, content_type=JSON_TYPE)
    answer.vary.update(MANNER_HEADERS)
    return answer


def manner() -> Manner:
    """In which manner whoever asks is told: by `Accept-Language`, and `Leafwalk-Units` such as `in gal F`."""
    if not has_request_context():
        return PLAIN
    language = request.accept_languages.best_match(LANGUAGES, ENGLISH)
    return manner_of(language or ENGLISH, request.headers.get("Leafwalk-Units", ""))


def manner_of(language: str, units: str) -> Manner:
    """A manner by a language and units; English and SI stand in for what is not known."""
    named = units_from(units[:UNITS_LENGTH_MAX].split())
    return Manner(language if language in LANGUAGES else ENGLISH, **named)
