"""The secret in the address of the calendar: kept as a hash, so that no copy of the database gives it away."""

from __future__ import annotations

import hashlib
import hmac
import secrets

from server.records.database import get_setting, set_setting, write

SETTING = "calendar_hash"
SECRET_BYTES = 24
SECRET_LENGTH_MAX = 64


def new_calendar_secret() -> str:
    """A new secret in the place of any former one, which opens nothing from now on."""
    secret = secrets.token_urlsafe(SECRET_BYTES)
    with write():
        set_setting(SETTING, _hash(secret))
    return secret


def drop_calendar_secret() -> None:
    """From now on no secret opens the calendar."""
    with write():
        set_setting(SETTING, None)


def has_calendar_secret() -> bool:
    """Whether there is one."""
    return get_setting(SETTING) is not None


def opens_calendar(secret: str) -> bool:
    """Whether this is the secret, told in the same time for every guess."""
    known = get_setting(SETTING)
    return known is not None and len(secret) <= SECRET_LENGTH_MAX and hmac.compare_digest(known, _hash(secret))


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
