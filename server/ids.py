"""Identifiers, tag codes, secrets and the time: the only clock and the only randomness of the server."""

from __future__ import annotations

import secrets
import uuid
from datetime import UTC, datetime

from server.errors import BadTagCode
from server.wording.said import say

# Crockford's base 32 alphabet: no I, L, O, U, which are misread on a wet label.
TAG_SYMBOLS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
# ISO 7064 MOD 37,36 works on all 36 characters; the check character may be any of them.
CHECK_SYMBOLS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
TAG_CODE_LENGTH = 6
# A longer text than any address that we print is no tag code; reading stops there.
TAG_TEXT_LENGTH_MAX = 300
_MISREAD = str.maketrans("ILO", "110")


def now() -> datetime:
    """The present moment, with offset UTC."""
    return datetime.now(UTC)


def now_ms() -> int:
    """The present moment in milliseconds since 1970-01-01 UTC."""
    return int(now().timestamp() * 1000)


def new_id() -> str:
    """A fresh record or change id (UUID version 7, lower case): the millisecond it was made in, then 74 random bits.

    Ids of one round lie side by side in every index, so storing them rewrites few pages. Form: RFC 9562, 5.7.
    """
    drawn = secrets.randbits(74)
    number = (now_ms() & (1 << 48) - 1) << 80 | 7 << 76 | drawn >> 62 << 64 | 2 << 62 | drawn & (1 << 62) - 1
    return str(uuid.UUID(int=number))


def new_secret() -> str:
    """A fresh token of 256 bits, safe in a header and in a URL."""
    return secrets.token_urlsafe(32)


def new_pairing_code() -> str:
    """Eight symbols that can't be misread (40 bits), to be typed once."""
    return "".join(secrets.choice(TAG_SYMBOLS) for _ in range(8))


def check_character(symbols: str) -> str:
    """The ISO 7064 MOD 37,36 check character of upper-case letters and digits."""
    product = 36
    for symbol in symbols:
        total = (product + CHECK_SYMBOLS.index(symbol)) % 36 or 36
        product = total * 2 % 37
    return CHECK_SYMBOLS[(37 - product) % 36]


def new_tag_code() -> str:
    """A random tag code whose check character can't be misread either; about 30 million exist."""
    while True:
        symbols = "".join(secrets.choice(TAG_SYMBOLS) for _ in range(TAG_CODE_LENGTH - 1))
        check = check_character(symbols)
        if check in TAG_SYMBOLS:
            return symbols + check


def read_tag_code(text: str) -> str:
    """The canonical code in what was typed or scanned: a bare code, or an address that ends in one.

    Raises BadTagCode when the form is wrong or the check character does not fit.
    """
    bare = text[:TAG_TEXT_LENGTH_MAX].strip().rstrip("/").rsplit("/", 1)[-1]
    bare = bare.replace(" ", "").replace("-", "").upper()
    if len(bare) != TAG_CODE_LENGTH or not (bare.isascii() and bare.isalnum()):
        raise BadTagCode(
            say("“{text}” is not a tag code: a code has six letters and digits, as printed on the tag.", text=text[:40])
        )
    symbols, typed = bare[:-1].translate(_MISREAD), bare[-1]
    if any(symbol not in TAG_SYMBOLS for symbol in symbols):
        raise BadTagCode(
            say("“{text}” is not a tag code: no code has the letter U in its first five places.", text=text[:40])
        )
    check = check_character(symbols)
    if typed.translate(_MISREAD) != check.translate(_MISREAD):
        raise BadTagCode(
            say("“{text}” has a wrong check character: look at the tag and type the code again.", text=text[:40])
        )
    return symbols + check
