"""The second step of signing in: codes of an app, passkeys, and recovery codes on paper."""

import re
import secrets
from dataclasses import dataclass

from django.contrib.auth.hashers import ScryptPasswordHasher
from django.db import transaction
from django.utils import timezone
from django.utils.crypto import get_random_string

from maker.accounts.guessing import code_counters, one_try
from maker.accounts.models import CodeApp, Passkey, RecoveryCode, User
from maker.accounts.one_time_codes import SECRET_BYTES, matching_counter
from maker.calc.refusal import Refusal
from maker.sealing import seal, seal_again, unseal

PURPOSE = "one-time codes"
RECOVERY_CODES = 8
# how a person showed who she is
RECOVERY_CODE = "recovery code"
HALF_LETTERS = 5
# no 0, o, 1, i, l: 10 of 31 letters are 49 bits; ASVS 5.0, 6.5.2 wants a slow hash below 112
LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"
SCRYPT = ScryptPasswordHasher()


class WrongCode(Refusal):
    """The code is not one that is right now, or was used before."""


@dataclass(frozen=True, slots=True)
class SecondSteps:
    """What a person has set up."""

    has_app: bool
    passkeys: list[Passkey]
    recovery_left: int

    @property
    def is_on(self) -> bool:
        """Whether a password alone does not let in."""
        return self.has_app or bool(self.passkeys)


def second_steps_of(user: User) -> SecondSteps:
    """Return what a person has set up."""
    return SecondSteps(
        has_app=CodeApp.objects.filter(user=user).exists(),
        passkeys=list(Passkey.objects.filter(user=user).order_by("added_at", "pk")),
        recovery_left=RecoveryCode.objects.filter(user=user, used_at=None).count(),
    )


def new_secret() -> bytes:
    """Return a secret to share with an app."""
    return secrets.token_bytes(SECRET_BYTES)


def sealed(secret: bytes) -> str:
    """Return the secret as it may lie in the database."""
    return seal(secret.hex(), PURPOSE)


def opened(sealed_secret: str) -> bytes:
    """Return the secret again. Refusals: SealBroken."""
    return bytes.fromhex(unseal(sealed_secret, PURPOSE))


@transaction.atomic
def seal_code_apps_again() -> int:
    """Seal the secret of every app with today's secret key; return how many. Refusals: SealBroken.

    A secret that no known key opens stays as it is: its person sets up a new app.
    """
    apps = list(CodeApp.objects.select_for_update().order_by("pk"))
    for app in apps:
        app.sealed_secret = seal_again(app.sealed_secret, PURPOSE)
    CodeApp.objects.bulk_update(apps, ["sealed_secret"])
    return len(apps)


def add_code_app(*, user: User, sealed_secret: str, code: str) -> list[str]:
    """Take codes of this app from now on, once one of them was typed; it replaces another app.

    Returns recovery codes when it is the first second step. Refusals: WrongCode, TooManyTries.
    """
    with one_try(code_counters(user.pk), WrongCode):
        counter = matching_counter(opened(sealed_secret), _plain(code), _seconds())
        if counter is None:
            raise WrongCode(
                "That isn't the code the app shows now. Is the phone's clock right?", where="code"
            )
    with transaction.atomic():
        CodeApp.objects.update_or_create(
            user=user,
            defaults={
                "sealed_secret": sealed_secret,
                "last_counter": counter,
                "added_at": timezone.now(),
            },
        )
        return _first_recovery_codes(user)


def check_code(*, user: User, code: str) -> str:
    """Take a code of the app or of her paper, once, and return which it was.

    Refusals: WrongCode, TooManyTries, SealBroken.
    """
    plain = _plain(code)
    with one_try(code_counters(user.pk), WrongCode):
        if re.fullmatch(r"[0-9]{6}", plain):
            _take_app_code(user, plain)
            return "code"
        _take_recovery_code(user, plain)
        return RECOVERY_CODE


def _take_app_code(user: User, plain: str) -> None:
    app = CodeApp.objects.filter(user=user).first()
    counter = matching_counter(opened(app.sealed_secret), plain, _seconds()) if app else None
    # in one statement, so that two who send one code at the same moment do not both get in
    if counter is None or not CodeApp.objects.filter(user=user, last_counter__lt=counter).update(
        last_counter=counter
    ):
        raise WrongCode(
            "That isn't the code the app shows now, or it was used already. Enter the next one.",
            where="code",
        )


def _take_recovery_code(user: User, plain: str) -> None:
    # its first figure says which it is, so that one slow hash is enough
    number = int(plain[0]) if plain[:1].isdecimal() and plain.isascii() else 0
    row = RecoveryCode.objects.filter(user=user, number=number, used_at=None).first()
    if (
        row is None
        or not SCRYPT.verify(plain[1:], row.hashed)
        or not RecoveryCode.objects.filter(pk=row.pk, used_at=None).update(used_at=timezone.now())
    ):
        raise WrongCode("That code is not right, or it was used already.", where="code")


@transaction.atomic
def new_recovery_codes(user: User) -> list[str]:
    """Make a fresh set; the older one is void. They are told only now."""
    codes = [
        f"{number}{get_random_string(2 * HALF_LETTERS, LETTERS)}"
        for number in range(1, RECOVERY_CODES + 1)
    ]
    RecoveryCode.objects.filter(user=user).delete()
    RecoveryCode.objects.bulk_create(
        RecoveryCode(user=user, number=int(code[0]), hashed=_hashed(code[1:])) for code in codes
    )
    middle = 1 + HALF_LETTERS
    return [f"{code[0]}-{code[1:middle]}-{code[middle:]}" for code in codes]


def _hashed(code: str) -> str:
    # less work than for a password: 49 random bits are no word, and eight are made at a time
    return SCRYPT.encode(code, get_random_string(22), n=2**14, r=8, p=1)


@transaction.atomic
def add_passkey(*, user: User, passkey: Passkey) -> list[str]:
    """Keep a passkey that was shown to work; returns recovery codes when it is the first step."""
    passkey.user = user
    passkey.save(force_insert=True)
    return _first_recovery_codes(user)


@transaction.atomic
def remove_code_app(user: User) -> bool:
    """Ask for no codes any more; False when none were asked for."""
    removed = CodeApp.objects.filter(user=user).delete()[0]
    _tidy(user)
    return bool(removed)


@transaction.atomic
def remove_passkey(user: User, pk: int) -> bool:
    """Remove a passkey; False when it was gone already."""
    removed = Passkey.objects.filter(user=user, pk=pk).delete()[0]
    _tidy(user)
    return bool(removed)


@transaction.atomic
def remove_second_steps(user: User) -> bool:
    """Let the password alone let in again; False when it did."""
    apps = CodeApp.objects.filter(user=user).delete()[0]
    passkeys = Passkey.objects.filter(user=user).delete()[0]
    _tidy(user)
    return bool(apps or passkeys)


def _first_recovery_codes(user: User) -> list[str]:
    return [] if RecoveryCode.objects.filter(user=user).exists() else new_recovery_codes(user)


def _tidy(user: User) -> None:
    """Without a second step there is nothing to recover."""
    if not second_steps_of(user).is_on:
        RecoveryCode.objects.filter(user=user).delete()


def _plain(code: str) -> str:
    return re.sub(r"[\s-]", "", code).lower()


def _seconds() -> float:
    return timezone.now().timestamp()
