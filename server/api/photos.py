"""Photos by the SHA-256 of what a phone sent: whether one is here, taking one in, handing one out."""

from __future__ import annotations

PHOTO_BYTES_MAX = 25 * 1024 * 1024
