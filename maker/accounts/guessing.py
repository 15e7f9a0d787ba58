"""Ends guessing: counts wrong tries and says for how long the door stays closed.

A try is counted before it is looked at and taken back when it was right, so a hundred guesses sent
in one moment are a hundred guesses, and one too many costs no hash. What is counted is kept as a
keyed digest: the table holds neither the address a person typed nor where she was.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import ceil

from django.utils import timezone
from django.utils.crypto import salted_hmac

from maker.accounts.models import Try
from maker.calc.refusal import Refusal

QUARTER = timedelta(minutes=15)
DAY = timedelta(days=1)


class TooManyTries(Refusal):
    """The door is closed for a while, also for who knows the secret."""

    def __init__(self, wait: timedelta, *, was_tried: bool = False) -> None:
        self.was_tried = was_tried  # this try was looked at and is the last for now
        self.wait_seconds = max(1, ceil(wait.total_seconds()))
        super().__init__(f"Too many attempts. Try again in {self.wait_text}.")

    @property
    def wait_text(self) -> str:
        """How long, in whole minutes or hours, never too short."""
        minutes = -(-self.wait_seconds // 60)
        if minutes <= 90:
            return "1 minute" if minutes == 1 else f"{minutes} minutes"
        return f"{-(-minutes // 60)} hours"


@dataclass(frozen=True, slots=True)
class Counter:
    """How often something may be tried within a time, and whether a right try wipes it clean."""

    key: str
    most: int
    within: timedelta
    wiped: bool = True


def counter(
    what: str, *whose: object, most: int, within: timedelta = QUARTER, wiped: bool = True
) -> Counter:
    """Return the counter of one thing, such as an account from one address."""
    text = "\x00".join([what, *(str(part) for part in whose)])
    key = salted_hmac("maker.accounts.guessing", text, algorithm="sha256").hexdigest()
    return Counter(key, most, within, wiped)


def password_counters(account: str, visitor: str, browser: str) -> list[Counter]:
    """Return what one try of a password counts for.

    A browser she signed in from before is counted apart, so that strangers who guess at her account
    from anywhere cannot lock her out of it.
    (owasp.org: Slow Down Online Guessing Attacks with Device Cookies)
    """
    if browser:
        return [counter("password in browser", account, browser, most=5)]
    return [
        counter("password from", account, visitor, most=5),
        # a household or a guild shares an address; one who signs in rightly must not wipe it
        counter("passwords from", visitor, most=20, wiped=False),
        # NIST SP 800-63B, 5.2.2: no more than 100 failed attempts in a row on one account
        counter("password anywhere", account, most=100, within=DAY),
        # bounds what all guessers together cost: a hash is tenths of a second
        counter("passwords anywhere", most=200, wiped=False),
    ]


def code_counters(user_pk: int) -> list[Counter]:
    """Return what one try of a code counts for: three codes of a million are right at a time."""
    return [
        counter("code", user_pk, most=5),
        counter("code in a day", user_pk, most=50, within=DAY),
    ]


def proof_counters(user_pk: int) -> list[Counter]:
    """Return what a password counts for that somebody who is signed in is asked for again."""
    return [counter("proof", user_pk, most=5)]


def passkey_counters(visitor: str) -> list[Counter]:
    """Return what asking for a passkey counts for: none can be guessed, but each is noted."""
    return [counter("passkeys from", visitor, most=60), counter("passkeys", most=600)]


def mail_counters(account: str, visitor: str) -> list[Counter]:
    """Return what asking for a letter counts for, so that nobody floods a mailbox."""
    return [
        counter("letter to", account, most=3, within=timedelta(hours=1)),
        counter("letters from", visitor, most=10, within=timedelta(hours=1)),
        counter("letters", most=100, within=timedelta(hours=1)),
    ]


def count_try(counters: Sequence[Counter]) -> None:
    """Count a try that stays counted. Refusals: TooManyTries."""
    _make_room()
    _count(counters, timezone.now())


@contextmanager
def one_try(counters: Sequence[Counter], *wrong: type[Exception]) -> Iterator[None]:
    """Let a secret be tried once; `wrong` are the errors by which the block says it was wrong.

    Refusals: TooManyTries, before the block or, with the last wrong try allowed, after it.
    """
    _make_room()
    now = timezone.now()
    rows = _count(counters, now)
    try:
        yield
    except wrong as error:
        if wait := _wait(counters, now, spare=0):
            raise TooManyTries(wait, was_tried=True) from error
        raise
    except BaseException:
        Try.objects.filter(pk__in=rows).delete()
        raise
    Try.objects.filter(pk__in=rows).delete()
    Try.objects.filter(key__in=[one.key for one in counters if one.wiped]).delete()


def forget_tries(account: str, visitor: str, browser: str) -> None:
    """Open the door to an account again, where its password has just been replaced."""
    counters = password_counters(account, visitor, "")
    if browser:
        counters += password_counters(account, visitor, browser)
    Try.objects.filter(key__in=[one.key for one in counters if one.wiped]).delete()


def _make_room() -> None:
    Try.objects.filter(at__lt=timezone.now() - DAY).delete()


def _count(counters: Sequence[Counter], now: datetime) -> list[int]:
    rows = Try.objects.bulk_create([Try(key=one.key, at=now) for one in counters])
    if wait := _wait(counters, now, spare=1):
        Try.objects.filter(pk__in=[row.pk for row in rows]).delete()
        raise TooManyTries(wait)
    return [row.pk for row in rows]


def _wait(counters: Sequence[Counter], now: datetime, *, spare: int) -> timedelta:
    """Return how long until another try is open; `spare` is how many of the rows are this try."""
    longest = timedelta()
    for one in counters:
        newest = Try.objects.filter(key=one.key, at__gt=now - one.within).order_by("-at", "-pk")
        # the one that must grow old before there is room again
        blocking = newest.values_list("at", flat=True)[one.most - 1 + spare :][:1].first()
        if blocking is not None:
            longest = max(longest, blocking + one.within - now)
    return longest
