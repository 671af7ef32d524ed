"""One-time codes over HTTP: who gets in, and how often one may try."""

from datetime import UTC, datetime, timedelta

from flask.testing import FlaskClient

from server.api.pairing import TRIES_A_MINUTE
from tests.support.server import Visitor


def test_a_code_lets_one_device_in_once(owner: Visitor, stranger: Visitor) -> None:
    made = owner.call("POST", "/pairings", json={"role": "helper"})
    assert made.status_code == 201
    code = made.json["code"]
    until = datetime.fromisoformat(made.json["expires_at"])
    assert timedelta(minutes=14) < until - datetime.now(UTC) <= timedelta(minutes=15)
    paired = stranger.call("POST", "/pair", json={"code": f" {code[:4].lower()}-{code[4:]}", "device_name": "Ada's"})
    assert paired.status_code == 201
    assert set(paired.json) == {"device", "token", "role", "collection", "epoch"}
    assert paired.json["role"] == "helper"
    newcomer = Visitor(owner.client, paired.json["token"])
    assert newcomer.sync().json["epoch"] == paired.json["epoch"]
    again = stranger.call("POST", "/pair", json={"code": code, "device_name": "Eve's"})
    assert again.status_code == 403
    assert again.json["type"].endswith("/wrong-code")


def test_five_wrong_tries_close_an_open_code(owner: Visitor, stranger: Visitor) -> None:
    code = owner.call("POST", "/pairings", json={"role": "owner"}).json["code"]
    for _ in range(5):
        assert stranger.call("POST", "/pair", json={"code": "00000000", "device_name": ""}).status_code == 403
    assert stranger.call("POST", "/pair", json={"code": code, "device_name": ""}).status_code == 403


def test_a_page_of_another_site_uses_up_no_tries(owner: Visitor, stranger: Visitor) -> None:
    """What a browser sends unasked for any page (Fetch Standard, CORS-safelisted request headers)."""
    code = owner.call("POST", "/pairings", json={"role": "owner"}).json["code"]
    elsewhere = {"Origin": "http://other.example"}
    for content_type in (None, "text/plain;charset=UTF-8", "application/x-www-form-urlencoded", "multipart/form-data"):
        for _ in range(3):
            body = b'{"code": "00000000", "device_name": ""}'
            answer = stranger.call("POST", "/pair", data=body, content_type=content_type, headers=elsewhere)
            assert answer.status_code == 422
            assert "application/json" in answer.json["detail"]
    own = {"Origin": "http://localhost"}
    paired = stranger.call("POST", "/pair", json={"code": code, "device_name": ""}, headers=own)
    assert paired.status_code == 201


def test_trying_without_end_is_slowed_down(stranger: Visitor) -> None:
    body = {"code": "00000000", "device_name": "x"}
    statuses = [stranger.call("POST", "/pair", json=body).status_code for _ in range(TRIES_A_MINUTE)]
    assert set(statuses) == {403}
    answer = stranger.call("POST", "/pair", json=body)
    assert answer.status_code == 429
    assert int(answer.headers["Retry-After"]) > 0


def test_what_is_no_pairing_is_refused_field_by_field(stranger: Visitor, owner: Visitor) -> None:
    for body in ({}, {"code": 5}, {"code": ""}, {"code": "a" * 500}, {"code": "ABCDEFGH", "role": "owner"}):
        answer = stranger.call("POST", "/pair", json=body)
        assert answer.status_code == 422
        assert answer.json["errors"][0]["field"] in ("code", "role")
    assert owner.call("POST", "/pairings", json={"role": "king"}).status_code == 422


def test_an_open_code_shows_the_address_once_there_is_one(owner: Visitor) -> None:
    assert owner.call("POST", "/pairings", json={}).json["url"].startswith("http://127.0.0.1:8617/#/pair/")
    owner.call("PUT", "/settings", json={"public_url": "https://trees.example.org"})
    made = owner.call("POST", "/pairings", json={}).json
    assert made["url"] == f"https://trees.example.org/#/pair/{made['code']}"


def test_a_name_of_any_characters_is_kept_as_text(client: FlaskClient, owner: Visitor, stranger: Visitor) -> None:
    code = owner.call("POST", "/pairings", json={}).json["code"]
    name = "<b>Ada</b> 🍃 \\ '; DROP TABLE device"
    assert stranger.call("POST", "/pair", json={"code": code, "device_name": name}).status_code == 201
    assert name in [each["name"] for each in owner.call("GET", "/devices").json["devices"]]
