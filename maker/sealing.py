"""Keeps secrets unreadable in the database: a copy of it alone opens none of them."""

import base64
from typing import TYPE_CHECKING

from django.conf import settings
from django.utils.encoding import force_bytes

from maker.calc.refusal import Refusal

if TYPE_CHECKING:
    from cryptography.fernet import Fernet


class SealBroken(Refusal):
    """What was sealed cannot be opened: it was sealed with another secret key, or changed."""


def seal(text: str, purpose: str) -> str:
    """Return the text unreadable; only `unseal` with the same purpose opens it."""
    return _fernet(settings.SECRET_KEY, purpose).encrypt(text.encode()).decode()


def unseal(sealed: str, purpose: str) -> str:
    """Return what was sealed, with the secret key of today or an earlier one.

    Refusals: SealBroken.
    """
    from cryptography.fernet import InvalidToken, MultiFernet

    keys = [settings.SECRET_KEY, *settings.SECRET_KEY_FALLBACKS]
    try:
        return MultiFernet([_fernet(key, purpose) for key in keys]).decrypt(sealed).decode()
    except InvalidToken as error:
        raise SealBroken(
            "This was kept with another secret key and cannot be read. Set it up again."
        ) from error


def seal_again(sealed: str, purpose: str) -> str:
    """Return what was sealed, sealed with today's secret key. Refusals: SealBroken."""
    return seal(unseal(sealed, purpose), purpose)


def _fernet(key: str | bytes, purpose: str) -> "Fernet":
    from cryptography.fernet import Fernet
    from cryptography.hazmat.primitives.hashes import SHA256
    from cryptography.hazmat.primitives.kdf.hkdf import HKDF

    info = f"pleat and penny: {purpose}".encode()
    derived = HKDF(algorithm=SHA256(), length=32, salt=None, info=info).derive(force_bytes(key))
    return Fernet(base64.urlsafe_b64encode(derived))
