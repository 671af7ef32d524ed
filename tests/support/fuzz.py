"""Requests made from the API's own description: some that fit it, some that don't, some that are no request at all."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from hypothesis import strategies as st
from hypothesis.strategies import SearchStrategy

# Half surrogate pairs and NUL are among the characters.
TEXT = st.text(st.characters(exclude_categories=()), max_size=40)
SCALAR = st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | TEXT
JSON = st.recursive(SCALAR, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXT, inner, max_size=4))
MOMENTS = st.sampled_from(
    [
        *("2025-05-03T08:30:00+02:00", "2025-11-24T07:00:00Z", "2024-02-29T23:59:59.999-11:00") * 10,
        *("0001-01-01T00:00:00Z", "9999-12-31T23:59:59-12:00"),
        *("1900-01-01T00:00:00+23:59", "2025-02-30T00:00:00Z", "2025-05-03T08:30:60Z", "2025-05-03 08:30"),
    ]
)
DAYS = st.sampled_from(
    ["2025-05-03", "2025-11-24"] * 10 + ["1900-01-01", "2199-12-31", "9999-12-31", "2025-02-30", "3.5.2025"]
)
FORMATS = {"uuid": st.uuids().map(str), "date-time": MOMENTS, "date": DAYS}
CHANGES_MAX = 4
JUNK_ONE_IN = 60
# Ids that the collection really has, by the name of the field or of the part of a path that holds one.
Known = dict[str, SearchStrategy[str]]


@dataclass(frozen=True)
class Request:
    """One request below the API's root."""

    method: str
    path: str
    query: dict[str, str]
    body: bytes | None


def requests_of(document: dict[str, Any], known_ids: dict[str, list[str]]) -> SearchStrategy[Request]:
    """Requests to every route that a document describes; `known_ids` holds some of the collection's, by field."""
    schemas = document["components"]["schemas"]
    operations = [
        (method.upper(), path, operation)
        for path, methods in document["paths"].items()
        for method, operation in methods.items()
        if method != "head"
    ]
    # Sync takes in what is kept for good: one request in four is one.
    often = [each for each in operations if each[1] == "/sync"] * (len(operations) // 3)
    known = {field: st.sampled_from(values) for field, values in known_ids.items()}
    return st.one_of(_requests(*operation, schemas, known) for operation in operations + often)


def value_of(schema: dict[str, Any], schemas: dict[str, Any], known: Known) -> SearchStrategy[Any]:
    """Values that mostly fit a JSON Schema; now and then something else altogether."""
    return st.integers(0, JUNK_ONE_IN - 1).flatmap(lambda die: JSON if die == 0 else _fitting(schema, schemas, known))


def _requests(
    method: str, path: str, operation: dict[str, Any], schemas: dict[str, Any], known: Known
) -> SearchStrategy[Request]:
    parameters = operation["parameters"]
    of_path = {each["name"]: _path_part(each["name"], known) for each in parameters if each["in"] == "path"}
    of_query = {
        each["name"]: value_of(each["schema"], schemas, known).map(_query_text)
        for each in parameters
        if each["in"] == "query"
    }
    query = st.fixed_dictionaries({}, optional=of_query) | st.dictionaries(TEXT, TEXT, max_size=2).map(_whole)
    content = operation.get("requestBody", {}).get("content", {})
    body: SearchStrategy[bytes | None] = st.none() | st.binary(max_size=60)
    if "application/json" in content:
        body = body | value_of(content["application/json"]["schema"], schemas, known).map(_json_bytes)
    return st.builds(
        lambda parts, asked, sent: Request(method, path.format(**parts), asked, sent),
        st.fixed_dictionaries(of_path),
        query,
        body,
    )


def _fitting(schema: dict[str, Any], schemas: dict[str, Any], known: Known) -> SearchStrategy[Any]:
    if "$ref" in schema:
        return value_of(schemas[schema["$ref"].rpartition("/")[2]], schemas, known)
    for word in ("oneOf", "anyOf"):
        if word in schema:
            return st.one_of(value_of(each, schemas, known) for each in schema[word])
    if "const" in schema or "enum" in schema:
        return st.sampled_from(schema.get("enum", [schema.get("const")]))
    kinds = schema.get("type", "any")
    kinds = [kinds] if isinstance(kinds, str) else kinds
    return st.one_of(_of_type(kind, schema, schemas, known) for kind in kinds)


def _of_type(kind: str, schema: dict[str, Any], schemas: dict[str, Any], known: Known) -> SearchStrategy[Any]:
    low, high = schema.get("minimum"), schema.get("maximum")
    if kind == "string":
        plain = st.text(st.characters(exclude_categories=["C"]), max_size=min(schema.get("maxLength", 30), 30))
        return FORMATS.get(schema.get("format", ""), plain)
    if kind == "integer":
        return st.integers(low, high)
    if kind == "number":
        return st.floats(low, high, allow_nan=False, allow_infinity=False)
    if kind == "array":
        return st.lists(value_of(schema.get("items", {}), schemas, known), max_size=CHANGES_MAX)
    if kind == "object":
        known_keys = {name: value_of(each, schemas, known) for name, each in schema.get("properties", {}).items()}
        known_keys |= {name: known[name] | known_keys[name] for name in known_keys.keys() & known.keys()}
        if "protocol" in known_keys:
            known_keys |= {"protocol": st.just(1), "changes": known_keys["changes"].filter(bool)}
        must = {name: known_keys[name] for name in schema.get("required", []) if name in known_keys}
        rest = {name: known_keys[name] for name in known_keys.keys() - must.keys()}
        return st.fixed_dictionaries(known_keys) | st.fixed_dictionaries(must, optional=rest)
    return {"boolean": st.booleans(), "null": st.none()}.get(kind, JSON)


def _path_part(name: str, known: Known) -> SearchStrategy[str]:
    junk = st.text(st.characters(exclude_characters="/?#%", exclude_categories=["Cs", "Cc"]), min_size=1, max_size=20)
    names = {
        "name": st.sampled_from(["alerts", "trends", "heat", "crop", "pace", "hardening", "compare", "season"]),
        "sha256": st.binary(min_size=32, max_size=32).map(bytes.hex),
    }
    return names.get(name, known["tree"]) | known["tree"] | junk


def _query_text(value: Any) -> str:
    return str(value).encode("utf-8", "replace").decode()


def _whole(query: dict[str, str]) -> dict[str, str]:
    return {_query_text(name): _query_text(value) for name, value in query.items()}


def _json_bytes(value: Any) -> bytes:
    return json.dumps(value).encode()
