"""Codes of an app on her phone: a counter or the time, put through a shared secret.

RFC 4226 (HOTP) and RFC 6238 (TOTP) with what all apps know: SHA-1, six digits, 30 seconds.
"""

import base64
import hashlib
import hmac
from urllib.parse import quote, urlencode

STEP_SECONDS = 30
DIGITS = 6
# RFC 4226, section 4, R6: 128 bits are needed, 160 recommended
SECRET_BYTES = 20
# RFC 6238, section 5.2: one step for the way of the code; a phone's clock may be off either way
STEPS_OFF = 1


def code_at(secret: bytes, counter: int, *, digits: int = DIGITS, digest: str = "sha1") -> str:
    """Return the code of one counter (RFC 4226, section 5.3)."""
    mac = hmac.digest(secret, counter.to_bytes(8, "big"), getattr(hashlib, digest))
    at = mac[-1] & 0xF
    number = int.from_bytes(mac[at : at + 4], "big") & 0x7FFF_FFFF
    return str(number % 10**digits).zfill(digits)


def counter_of(seconds: float) -> int:
    """Return which step of 30 seconds a moment of Unix time lies in (RFC 6238, section 4.2)."""
    return int(seconds) // STEP_SECONDS


def matching_counter(secret: bytes, code: str, seconds: float) -> int | None:
    """Return the step, now or one beside it, whose code this is; None when it is of none."""
    now = counter_of(seconds)
    found = None
    for counter in range(now - STEPS_OFF, now + STEPS_OFF + 1):
        # all are looked at, so that the time taken tells nothing
        if hmac.compare_digest(code_at(secret, counter), code) and found is None:
            found = counter
    return found


def base32(secret: bytes) -> str:
    """Return the secret as apps let it be typed."""
    return base64.b32encode(secret).decode().rstrip("=")


def app_address(secret: bytes, account: str, issuer: str) -> str:
    """Return what the square code for the app holds (the key URI format that apps read)."""
    words = urlencode({"secret": base32(secret), "issuer": issuer}, quote_via=quote)
    return f"otpauth://totp/{quote(issuer)}:{quote(account)}?{words}"
