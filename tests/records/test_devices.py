"""Pairing and tokens: one-time codes, five tries, hashes only, shutting out."""

from __future__ import annotations

import pytest

from server import ids
from server.errors import NotFound, Refused, Unauthorised, WrongCode
from server.records import devices
from server.records.database import execute

pytestmark = pytest.mark.usefixtures("collection")


def test_a_code_lets_one_device_in_once() -> None:
    code, _ = devices.new_pairing("helper")
    device, token = devices.pair(f" {code[:4]}-{code[4:].lower()} ", "Field phone")
    assert (device.name, device.role) == ("Field phone", "helper")
    assert devices.device_by_token(token).id == device.id
    with pytest.raises(WrongCode):
        devices.pair(code, "another")


def test_five_wrong_tries_close_the_door() -> None:
    code, _ = devices.new_pairing()
    for _ in range(devices.CODE_TRIES):
        with pytest.raises(WrongCode):
            devices.pair("00000000", "guesser")
    with pytest.raises(WrongCode):
        devices.pair(code, "too late")


def test_four_wrong_tries_do_not() -> None:
    code, _ = devices.new_pairing()
    for _ in range(devices.CODE_TRIES - 1):
        with pytest.raises(WrongCode):
            devices.pair("00000000", "clumsy")
    assert devices.pair(code, "clumsy")[0].role == "owner"


def test_a_code_expires_after_fifteen_minutes(monkeypatch: pytest.MonkeyPatch) -> None:
    code, expires_ms = devices.new_pairing()
    assert expires_ms - ids.now_ms() == pytest.approx(15 * 60 * 1000, abs=2000)
    monkeypatch.setattr(ids, "now_ms", lambda: expires_ms + 1)
    with pytest.raises(WrongCode):
        devices.pair(code, "slow")


def test_neither_tokens_nor_codes_lie_readable_in_the_database() -> None:
    code, _ = devices.new_pairing()
    _, token = devices.pair(code, "phone")
    everything = str(execute("SELECT * FROM device").fetchall()) + str(execute("SELECT * FROM pairing").fetchall())
    assert token not in everything
    assert code not in everything


def test_a_device_that_was_shut_out_is_not_let_in_again() -> None:
    device, token = devices.pair(devices.new_pairing()[0], "phone")
    devices.revoke("phone")
    with pytest.raises(Unauthorised):
        devices.device_by_token(token)
    with pytest.raises(NotFound):
        devices.revoke(device.id)


def test_two_devices_of_one_name_are_told_apart_by_id() -> None:
    first, _ = devices.pair(devices.new_pairing()[0], "phone")
    devices.pair(devices.new_pairing()[0], "phone")
    with pytest.raises(Refused, match="give the id"):
        devices.revoke("phone")
    assert devices.revoke(first.id).id == first.id


def test_an_unknown_role_and_too_many_open_codes_are_refused() -> None:
    with pytest.raises(Refused, match="owner, helper"):
        devices.new_pairing("king")
    for _ in range(devices.CODES_LIVE_MAX):
        devices.new_pairing()
    with pytest.raises(Refused, match="open already"):
        devices.new_pairing()


def test_codes_that_were_guessed_at_too_often_leave_room_for_new_ones() -> None:
    for _ in range(devices.CODES_LIVE_MAX):
        devices.new_pairing()
    for _ in range(devices.CODE_TRIES):
        with pytest.raises(WrongCode):
            devices.pair("00000000", "guesser")
    assert devices.pair(devices.new_pairing()[0], "phone")[0].role == "owner"


def test_a_name_moves_no_cursor_and_turns_no_writing_round() -> None:
    """Control characters (ECMA-48) and overrides of direction (Unicode UAX #9) could forge a line of the list."""
    device, _ = devices.pair(devices.new_pairing()[0], " A\x1b[2J\r\nfake  owner\u009b31m\u202eb\u2028\u0000")
    assert device.name == devices.devices()[0].name == "A [2J fake owner 31m b"
    assert devices.pair(devices.new_pairing()[0], "\x07\n")[0].name == "phone"


def test_this_computer_is_one_source_however_often_it_is_asked() -> None:
    assert devices.local_source("import").id == devices.local_source("import").id
