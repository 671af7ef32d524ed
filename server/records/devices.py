"""Devices: one-time pairing codes, hashed tokens, roles, shutting out."""

from __future__ import annotations

import hashlib
import hmac
from dataclasses import dataclass

from server import ids
from server.errors import NotFound, Refused, Unauthorised, WrongCode
from server.records.database import execute, write
from server.wording.said import printable, say

CODE_VALID_MS = 15 * 60 * 1000
CODE_TRIES = 5
CODES_LIVE_MAX = 20
DEVICE_NAME_LENGTH_MAX = 80
DEVICES_MAX = 500
ROLES = ("owner", "helper")


@dataclass(frozen=True, slots=True)
class Device:
    """A paired device; times in milliseconds since 1970."""

    id: str
    name: str
    role: str
    paired_ms: int
    seen_ms: int | None
    revoked_ms: int | None


def _in_one_line(name: str) -> str:
    """A name without what would move a terminal's cursor or turn the writing round; its owner reads it there."""
    return " ".join(printable(name).split())


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()


def new_pairing(role: str = "owner") -> tuple[str, int]:
    """A fresh pairing code and when it expires (ms since 1970)."""
    if role not in ROLES:
        raise Refused(say("“{role}” is no role; choose one of: {known}.", role=role, known=", ".join(ROLES)))
    code, now_ms = ids.new_pairing_code(), ids.now_ms()
    with write():
        execute("DELETE FROM pairing WHERE expires_ms < ?", (now_ms,))
        live = execute("SELECT count(*) FROM pairing WHERE used_ms IS NULL AND tries_left > 0").fetchone()[0]
        if live >= CODES_LIVE_MAX:
            raise Refused(
                say("{count} pairing codes are open already; use one of them, or wait 15 minutes.", count=live)
            )
        execute(
            "INSERT INTO pairing (code_hash, role, expires_ms, tries_left) VALUES (?, ?, ?, ?)",
            (_hash(code), role, now_ms + CODE_VALID_MS, CODE_TRIES),
        )
    return code, now_ms + CODE_VALID_MS


def pair(code: str, device_name: str) -> tuple[Device, str]:
    """Trade a pairing code for a device and its token; the token is told once and kept only as a hash.

    Raises WrongCode for a code that is wrong, used, expired or tried too often. A wrong code costs every open code
    one of its five tries, so that guessing closes the door for all.
    """
    typed = code.strip().upper().replace("-", "").replace(" ", "").translate(str.maketrans("ILO", "110"))
    name = _in_one_line(device_name)[:DEVICE_NAME_LENGTH_MAX] or "phone"
    token, device_id, now_ms = ids.new_secret(), ids.new_id(), ids.now_ms()
    with write():
        row = execute(
            "SELECT role FROM pairing WHERE code_hash = ? AND used_ms IS NULL AND tries_left > 0 AND expires_ms > ?",
            (_hash(typed), now_ms),
        ).fetchone()
        if row is None:
            execute("UPDATE pairing SET tries_left = tries_left - 1 WHERE tries_left > 0")
        else:
            _let_in(device_id, name, row[0], token, now_ms)
            execute("UPDATE pairing SET used_ms = ? WHERE code_hash = ?", (now_ms, _hash(typed)))
    if row is None:
        raise WrongCode(say("This pairing code is wrong, used or older than 15 minutes. Make a new one: leafwalk pair"))
    return Device(device_id, name, row[0], now_ms, None, None), token


def _let_in(device_id: str, name: str, role: str, token: str | None, now_ms: int) -> None:
    count = execute("SELECT count(*) FROM device WHERE revoked_ms IS NULL").fetchone()[0]
    if count >= DEVICES_MAX:
        told = say("{count} devices are paired; shut out those no longer used: leafwalk revoke DEVICE")
        raise Refused(told.filled(count=count))
    execute(
        "INSERT INTO device (id, name, role, token_hash, paired_ms) VALUES (?, ?, ?, ?, ?)",
        (device_id, name, role, None if token is None else _hash(token), now_ms),
    )


def local_source(name: str) -> Device:
    """The device under which this computer itself writes (imports); made at the first call; it has no token."""
    with write():
        row = execute("SELECT id FROM device WHERE name = ? AND token_hash IS NULL", (name,)).fetchone()
        identity = ids.new_id() if row is None else row[0]
        if row is None:
            _let_in(identity, name, "owner", None, ids.now_ms())
    return next(device for device in devices() if device.id == identity)


def once_paired() -> dict[str, str]:
    """The role of each device that was ever paired, shut out since or not, by its id; local sources are none."""
    return dict(execute("SELECT id, role FROM device WHERE token_hash IS NOT NULL").fetchall())


def device_by_token(token: str) -> Device:
    """The device that holds a token. Raises Unauthorised when none does, or when it was shut out."""
    row = execute(
        "SELECT id, name, role, paired_ms, seen_ms, revoked_ms, token_hash FROM device WHERE token_hash = ?",
        (_hash(token),),
    ).fetchone()
    if row is None or row[5] is not None or not hmac.compare_digest(row[6], _hash(token)):
        raise Unauthorised(say("This device is not paired, or was shut out. Pair it again; what it holds stays on it."))
    return Device(*row[:6])


def devices() -> list[Device]:
    """All devices, the newest first."""
    rows = execute("SELECT id, name, role, paired_ms, seen_ms, revoked_ms FROM device ORDER BY paired_ms DESC, id")
    return [Device(*row) for row in rows.fetchall()]


def revoke(device: str) -> Device:
    """Shut a device out, by its id or by its name where only one has it. Raises NotFound or Refused."""
    open_ones = [each for each in devices() if each.revoked_ms is None]
    found = [each for each in open_ones if each.id == device] or [each for each in open_ones if each.name == device]
    if not found:
        raise NotFound(say("No paired device is called “{name}”; see: leafwalk devices", name=device))
    if len(found) > 1:
        told = say("{count} devices are called “{name}”; give the id instead (leafwalk devices lists it).")
        raise Refused(told.filled(count=len(found), name=device))
    with write():
        execute("UPDATE device SET revoked_ms = ? WHERE id = ?", (ids.now_ms(), found[0].id))
    return found[0]
