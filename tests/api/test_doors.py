"""Who may call which route, and what a caller who may not is told."""

import uuid

from flask import Flask
from flask.testing import FlaskClient

from server.records import devices
from tests.support.server import API, Visitor

SOME_ID = "2f9b7f0e-58b3-4d0b-9b0e-0d7a4d0f3a11"
SOME_SHA = "ab" * 32
# Every route but /pair and /health: (method, path, body), and whether a helper's device may call it.
ROUTES = [
    ("POST", "/sync", {"protocol": 1}, True),
    ("GET", "/settings", None, True),
    ("PUT", "/settings", {"collection": "Figs"}, False),
    ("POST", "/pairings", {"role": "helper"}, False),
    ("GET", "/devices", None, False),
    ("DELETE", f"/devices/{SOME_ID}", None, False),
    ("GET", "/tags.pdf?blank=1", None, False),
    ("GET", "/card.pdf", None, True),
    ("GET", "/papers", None, True),
    ("HEAD", f"/photos/{SOME_SHA}", None, True),
    ("GET", f"/photos/{SOME_SHA}", None, True),
    ("PUT", f"/photos/{SOME_SHA}", None, True),
    ("GET", "/jobs.pdf", None, True),
    ("GET", "/calendar", None, False),
    ("POST", "/calendar", None, False),
    ("DELETE", "/calendar", None, False),
    ("GET", f"/photos/{SOME_SHA}/measure", None, True),
    ("GET", f"/photos/{SOME_SHA}/measure/picture", None, True),
    ("GET", f"/photos/{SOME_SHA}/measure/mask", None, True),
    ("GET", "/overview", None, True),
    ("GET", "/reports/alerts", None, True),
    ("GET", "/reports/hardening", None, True),
    ("GET", "/reports/season", None, True),
    ("GET", "/season.pdf", None, True),
    ("GET", "/reports/groups", None, True),
    ("POST", f"/places/{SOME_ID}/logger", None, False),
    ("GET", "/passports.csv", None, True),
    ("POST", "/passports", None, False),
    ("GET", "/offers.pdf", None, False),
    ("DELETE", "/imports/1-2", None, False),
    ("GET", "/openapi.json", None, True),
    ("GET", f"/trees/{SOME_ID}", None, True),
    ("GET", f"/trees/{SOME_ID}/step?to={SOME_ID}", None, True),
    ("GET", "/settings/season", None, True),
    ("PUT", "/settings/season", {"name": "care", "value": 20}, False),
    ("GET", "/settings/species", None, True),
    ("PUT", "/settings/species", {"species": "fig", "name": "base_c", "value": 8}, False),
]
OPEN = {"/api/v1/pair", "/api/v1/health"}


def test_each_route_asks_who_comes(owner: Visitor, helper: Visitor, stranger: Visitor) -> None:
    for method, path, body, helpers_too in ROUTES:
        route = f"{method} {path}"
        assert owner.call(method, path, json=body).status_code not in (401, 403, 405, 500), route
        assert (helper.call(method, path, json=body).status_code != 403) == helpers_too, route
        answer = stranger.call(method, path, json=body)
        assert (answer.status_code, answer.headers["WWW-Authenticate"]) == (401, "Bearer"), route


def test_a_revoked_device_is_told_so_on_every_route(helper: Visitor) -> None:
    devices.revoke("helper's phone")
    for method, path, body, _ in ROUTES:
        answer = helper.call(method, path, json=body)
        assert (answer.status_code, answer.mimetype) == (401, "application/problem+json"), f"{method} {path}"
        assert method == "HEAD" or answer.json["type"].endswith("/token-revoked"), f"{method} {path}"


def test_no_route_is_forgotten_above(app: Flask) -> None:
    rules = [rule for rule in app.url_map.iter_rules() if rule.rule.startswith("/api/") and rule.rule not in OPEN]
    listed = {(method, f"/api/v1{path.split('?')[0]}") for method, path, _, _ in ROUTES}
    adapter = app.url_map.bind("localhost")
    reached = {(adapter.match(path, method=method)[0], method) for method, path in listed}
    for rule in rules:
        for method in (rule.methods or set()) - {"OPTIONS", "HEAD"}:
            assert (rule.endpoint, method) in reached, f"{method} {rule.rule} is not in ROUTES"


def test_a_header_without_a_usable_token_is_refused(client: FlaskClient) -> None:
    for header in ("", "Basic abc", "Bearer", "Bearer ", "Bearer \xe9", "Bearer " + "a" * 5000):
        assert client.get(f"{API}/settings", headers={"Authorization": header}).status_code == 401, header


def test_the_scheme_may_be_written_in_any_case(owner: Visitor) -> None:
    answer = owner.client.get(f"{API}/settings", headers={"Authorization": f"bearer {owner.token}"})
    assert answer.status_code == 200


def test_errors_under_the_api_are_problem_details(owner: Visitor) -> None:
    # Members and media type: RFC 9457, section 3.1; Allow with 405: RFC 9110, section 15.5.6.
    for method, path, status in (
        ("GET", "/api/v1/nothing", 404),
        ("GET", "/api/nothing", 404),
        ("GET", "/api/v1/devices/not-an-id", 404),
        ("PATCH", "/api/v1/settings", 405),
        ("POST", "/api/v1/health", 405),
    ):
        answer = owner.client.open(path, method=method, headers={"Authorization": f"Bearer {owner.token}"})
        assert (answer.status_code, answer.mimetype) == (status, "application/problem+json"), path
        assert answer.json["status"] == status
        assert {"type", "title", "detail"} <= set(answer.json)
        assert ("Allow" in answer.headers) == (status == 405)


def test_an_error_that_nobody_foresaw_is_a_problem_that_tells_nothing_inside(app: Flask, client: FlaskClient) -> None:
    def fail() -> None:
        raise ZeroDivisionError("a secret of the inside")

    app.add_url_rule("/api/v1/fails", view_func=fail)
    answer = client.get("/api/v1/fails")
    assert answer.status_code == 500
    assert answer.mimetype == "application/problem+json"
    assert "secret" not in answer.text


def test_every_answer_forbids_sniffing_framing_and_caching(owner: Visitor) -> None:
    for answer in (owner.call("GET", "/settings"), owner.call("GET", "/nothing")):
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "frame-ancestors 'none'" in answer.headers["Content-Security-Policy"]
        assert answer.headers["Cache-Control"] == "no-store"
        assert answer.headers["Referrer-Policy"] == "no-referrer"


def test_health_needs_no_token(stranger: Visitor) -> None:
    assert stranger.call("GET", "/health").json == {"status": "ok", "protocol": 1}


def test_an_owner_sees_devices_and_shuts_one_out(owner: Visitor, helper: Visitor) -> None:
    listed = owner.call("GET", "/devices").json["devices"]
    assert {(each["name"], each["role"]) for each in listed} == {
        ("owner's phone", "owner"),
        ("helper's phone", "helper"),
    }
    device = next(each for each in listed if each["role"] == "helper")
    gone = owner.call("DELETE", f"/devices/{device['id']}")
    assert gone.status_code == 204
    shut_out = {each["id"]: each["revoked_at"] for each in owner.call("GET", "/devices").json["devices"]}
    assert shut_out.pop(device["id"]) is not None
    assert set(shut_out.values()) == {None}
    assert helper.sync().status_code == 401
    assert owner.call("DELETE", f"/devices/{device['id']}").status_code == 404
    assert owner.call("DELETE", f"/devices/{uuid.uuid4()}").status_code == 404
