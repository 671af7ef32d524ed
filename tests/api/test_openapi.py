"""The description of the API: a valid OpenAPI document that leaves out no route and says the limits that hold."""

from __future__ import annotations

import re
from typing import Any

import pytest
from flask import Flask
from openapi_spec_validator import validate

from server.sync.fields import KINDS
from server.sync.push import CHANGES_MAX
from tests.support.server import Visitor


@pytest.fixture
def document(owner: Visitor) -> dict[str, Any]:
    found: dict[str, Any] = owner.call("GET", "/openapi.json").json
    return found


def test_it_is_a_valid_document(document: dict[str, Any]) -> None:
    # Checked by openapi-spec-validator against the schema of the OpenAPI Specification 3.1.
    assert document["openapi"] == "3.1.0"
    validate(document)


def test_every_route_is_described_with_a_sentence(app: Flask, document: dict[str, Any]) -> None:
    for rule in app.url_map.iter_rules():
        if not rule.rule.startswith("/api/v1/"):
            continue
        path = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", rule.rule.removeprefix("/api/v1"))
        for method in (rule.methods or set()) - {"OPTIONS"}:
            described = document["paths"][path][method.lower()]
            assert described["summary"], (method, path)
            named = {each["name"] for each in described["parameters"] if each["in"] == "path"}
            assert named == set(rule.arguments), (method, path)


def test_it_says_who_may_call_a_route(document: dict[str, Any]) -> None:
    paths = document["paths"]
    operations = [(path, each) for path, methods in paths.items() for each in methods.values()]
    assert {path for path, operation in operations if not operation["security"]} == {"/health", "/pair"}
    assert "owner" in paths["/pairings"]["post"]["description"]


def test_a_change_is_described_for_every_kind_of_record(document: dict[str, Any]) -> None:
    schemas = document["components"]["schemas"]
    assert schemas["SyncIn"]["properties"]["changes"]["maxItems"] == CHANGES_MAX
    variants = {each["properties"]["kind"]["const"]: each for each in schemas["Change"]["oneOf"]}
    assert set(variants) == set(KINDS)
    for kind, variant in variants.items():
        assert set(variant["properties"]["set"]["properties"]) == {*KINDS[kind].fields, "voided"}
    shoots = variants["observation"]["properties"]["set"]["properties"]["shoots"]
    assert {"type": "integer", "minimum": 0, "maximum": 5000} in shoots["oneOf"]
