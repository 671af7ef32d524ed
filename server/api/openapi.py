"""The API as an OpenAPI 3.1 document, read off the routes, their doors and the same schemas that check requests."""

from __future__ import annotations

import re
from importlib.metadata import version
from typing import Any

from apispec import APISpec
from apispec.ext.marshmallow import MarshmallowPlugin
from flask import Blueprint, Flask, Response, current_app
from marshmallow import Schema, fields
from werkzeug.routing import Rule

from server.api.doors import JSON_TYPE, Door, door_of, json_answer, paired
from server.api.problems import API_ROOT, PROBLEM_TYPE
from server.sync.change import N_MAX
from server.sync.fields import KINDS, shape_of
from server.sync.push import CHANGES_MAX

WHO = {
    None: "Anyone.",
    "paired": "Any paired device.",
    "owner": "Devices paired as owner.",
}
_PATH_PART = re.compile(r"<(?:(?P<kind>\w+):)?(?P<name>\w+)>")
_DATE_TIME = {"type": "string", "format": "date-time", "description": "RFC 3339 with offset"}
_UUID = {"type": "string", "format": "uuid"}

openapi = Blueprint("openapi", __name__)


class ProblemField(Schema):
    """One field at fault."""

    field = fields.String()
    message = fields.String()


class ProblemChoice(Schema):
    """An answer to the question that a file leaves open."""

    value = fields.String()
    words = fields.String()


class Problem(Schema):
    """RFC 9457 problem details; `choices` where a file leaves a question open, which the only error names."""

    type = fields.String()
    title = fields.String()
    status = fields.Integer()
    detail = fields.String()
    errors = fields.List(fields.Nested(ProblemField))
    choices = fields.List(fields.Nested(ProblemChoice))


@openapi.get("/openapi.json")
@paired
def get_openapi() -> Response:
    """This document."""
    return json_answer(describe(current_app))


def describe(app: Flask) -> dict[str, Any]:
    """The OpenAPI document of an application's API: every route, who may call it, and what it takes and gives."""
    spec = APISpec(
        title="Leafwalk",
        version=version("leafwalk"),
        openapi_version="3.1.0",
        info={"description": "Errors are problem details of RFC 9457. Times are RFC 3339 with offset, units SI."},
        servers=[{"url": API_ROOT}],
        plugins=[MarshmallowPlugin()],
    )
    spec.components.security_scheme("token", {"type": "http", "scheme": "bearer"})
    spec.components.schema("Change", _change())
    spec.components.schema("Problem", schema=Problem)
    problem = {"description": "A problem", "content": {PROBLEM_TYPE: {"schema": Problem}}}
    spec.components.response("Problem", problem)
    operations: dict[str, dict[str, Any]] = {}
    for rule in sorted(app.url_map.iter_rules(), key=lambda rule: rule.rule):
        if rule.rule.startswith(f"{API_ROOT}/"):
            path = _PATH_PART.sub(r"{\g<name>}", rule.rule.removeprefix(API_ROOT))
            operations.setdefault(path, {}).update(_operations(app, rule))
    for path, at_path in operations.items():
        spec.path(path=path, operations=at_path)
    found: dict[str, Any] = spec.to_dict()
    changes = {"type": "array", "maxItems": CHANGES_MAX, "items": {"$ref": "#/components/schemas/Change"}}
    found["components"]["schemas"]["SyncIn"]["properties"]["changes"] = changes
    return found


def _operations(app: Flask, rule: Rule) -> dict[str, Any]:
    view = app.view_functions[rule.endpoint]
    door = door_of(view)
    methods = (rule.methods or set()) - {"OPTIONS"}
    return {method.lower(): _operation(rule, method, view.__doc__ or "", door) for method in sorted(methods)}


def _operation(rule: Rule, method: str, summary: str, door: Door) -> dict[str, Any]:
    described: dict[str, Any] = {
        "operationId": f"{rule.endpoint.rpartition('.')[2]}_{method.lower()}",
        "summary": summary.partition("\n")[0],
        "description": f"For: {WHO[door.who]}",
        "security": [] if door.who is None else [{"token": []}],
        "parameters": _path_parameters(rule.rule),
        "responses": {str(door.status): _answer(door, method), "default": "Problem"},
    }
    if door.query is not None:
        described["parameters"].append({"in": "query", "schema": door.query})
    if door.body is not None:
        described["requestBody"] = {"required": True, "content": {JSON_TYPE: {"schema": door.body}}}
        described["description"] += f" A body of at most {door.bytes_max} bytes."
    if door.body_type is not None:
        described["requestBody"] = {"required": True, "content": {door.body_type: {}}}
        described["description"] += f" A body of at most {door.bytes_max} bytes."
    return described


def _path_parameters(rule: str) -> list[dict[str, Any]]:
    return [
        {
            "in": "path",
            "name": part["name"],
            "required": True,
            "schema": dict(_UUID) if part["kind"] == "uuid" else {"type": "string"},
        }
        for part in _PATH_PART.finditer(rule)
    ]


def _answer(door: Door, method: str) -> dict[str, Any]:
    if method == "HEAD" or door.media_type is None:
        return {"description": "Done"}
    return {"description": "The answer", "content": {door.media_type: {"schema": door.answer or {}}}}


def _change() -> dict[str, Any]:
    """The shape of one change of a sync request, a variant for each kind of record."""
    return {"oneOf": [_change_of(kind) for kind in KINDS]}


def _change_of(kind: str) -> dict[str, Any]:
    checks = KINDS[kind].fields
    values = {name: {"oneOf": [shape_of(check), {"type": "null"}]} for name, check in checks.items()}
    return {
        "type": "object",
        "required": ["id", "n", "kind", "record", "edited_at", "set"],
        "additionalProperties": False,
        "properties": {
            "id": dict(_UUID),
            "n": {"type": "integer", "minimum": 1, "maximum": N_MAX},
            "kind": {"const": kind},
            "record": dict(_UUID),
            "edited_at": dict(_DATE_TIME),
            "set": {
                "type": "object",
                "minProperties": 1,
                "additionalProperties": False,
                "description": f"A new record needs: {', '.join(KINDS[kind].required)}.",
                "properties": {**values, "voided": {"type": "boolean"}},
            },
        },
    }
