"""Every error of the API as RFC 9457 problem details."""

from __future__ import annotations

import errno
import json
import logging
from typing import Any

from flask import Flask, Response, request
from werkzeug.exceptions import HTTPException
from werkzeug.http import HTTP_STATUS_CODES

from server import errors
from server.api.doors import manner
from server.wording.said import say

PROBLEM_TYPE = "application/problem+json"
API_PREFIX = "/api/"
API_ROOT = f"{API_PREFIX}v1"
# The nearest ancestor of an error that stands here decides: status, end of the type's address, title.
SHOWN: dict[type[errors.LeafwalkError], tuple[int, str, str]] = {
    errors.Refused: (422, "refused", say("The input was refused")),
    errors.TooLarge: (413, "too-large", say("This is larger than the server takes")),
    errors.WrongCode: (403, "wrong-code", say("The pairing code does not fit")),
    errors.NotFound: (404, "not-found", say("This is not in the collection")),
    errors.NotAllowed: (403, "not-allowed", say("This device may not do that")),
    errors.Unauthorised: (401, "token-revoked", say("This device is not paired")),
    errors.TooManyTries: (429, "too-many-tries", say("Asked too often")),
    errors.Unavailable: (503, "unavailable", say("The server can't keep it now")),
}
FAILED = say("The server failed")
# What the client should do about a status, in seconds to wait or as a challenge.
RETRY_AFTER_S = {429: 60, 503: 20}
DISK_FULL = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})

log = logging.getLogger("leafwalk")


def problem_body(
    status: int, slug: str, title: str, detail: str, problems: tuple[errors.FieldProblem, ...] = ()
) -> dict[str, Any]:
    """One problem as the wire has it; `slug` ends its type's address."""
    told = manner()
    body: dict[str, Any] = {"type": f"/problems/{slug}", "title": told.say(title), "status": status}
    body["detail"] = told.say(detail)
    if problems:
        body["errors"] = [{"field": told.say(each.field), "message": told.say(each.message)} for each in problems]
    return body


def problem_answer(body: dict[str, Any]) -> Response:
    """A problem as an answer, with the headers that its status calls for."""
    status = body["status"]
    # Characters beyond ASCII are escaped: an input quoted back may hold half a surrogate pair.
    answer = Response(json.dumps(body), status, content_type=PROBLEM_TYPE)
    if status in RETRY_AFTER_S:
        answer.headers["Retry-After"] = str(RETRY_AFTER_S[status])
    if status == 401:
        answer.headers["WWW-Authenticate"] = "Bearer"
    return answer


def show_problems(app: Flask) -> None:
    """Answer every error under the API with problem details; the pages' own errors stay plain text."""
    app.register_error_handler(errors.LeafwalkError, on_purpose)
    app.register_error_handler(HTTPException, _of_http)
    app.register_error_handler(Exception, _unforeseen)


def on_purpose(error: errors.LeafwalkError) -> Response:
    """The answer to one of our own errors."""
    kind = next(each for each in type(error).__mro__ if each in SHOWN or each is errors.LeafwalkError)
    status, slug, title = SHOWN.get(kind, (500, "failed", FAILED))
    body = problem_body(status, slug, title, error.message, error.problems)
    if isinstance(error, errors.Unclear):
        told = manner()
        body["choices"] = [{"value": value, "words": told.say(words)} for value, words in error.choices]
    return problem_answer(body)


def _of_http(error: HTTPException) -> Response:
    status = error.code or 500
    if error.response is not None:
        return error.response  # type: ignore[return-value]
    if not request.path.startswith(API_PREFIX):
        plain = Response(f"{status} {error.name}\n", status, content_type="text/plain; charset=utf-8")
        return _with_allowed(plain, error)
    slug = HTTP_STATUS_CODES.get(status, "failed").lower().replace(" ", "-")
    return _with_allowed(problem_answer(problem_body(status, slug, error.name, error.description or "")), error)


def _with_allowed(answer: Response, error: HTTPException) -> Response:
    methods = getattr(error, "valid_methods", None)
    if methods:
        answer.headers["Allow"] = ", ".join(sorted(methods))
    return answer


def _unforeseen(error: Exception) -> Response:
    if isinstance(error, OSError) and error.errno in DISK_FULL:
        return on_purpose(
            errors.Unavailable(
                say("The disk of the server is full. Nothing was kept; make room there, then send again.")
            )
        )
    # Not the path: a calendar's holds its secret.
    log.exception("%s %s failed", request.method, request.url_rule or "an unknown address")
    detail = say("The server failed; its log says why. What this device holds stays on it; try again later.")
    return problem_answer(problem_body(500, "failed", FAILED, detail))
