"""Deleting one's own workshop or account: asked for, a week to change one's mind, then gone."""

import logging
from dataclasses import dataclass
from datetime import timedelta

from django.db import transaction
from django.db.models import Count, Q
from django.utils import timezone

from maker.accounts.models import Membership, User
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.workshop_file.removing import NotToBeRemoved, remove_workshop

logger = logging.getLogger(__name__)

TO_CHANGE_HER_MIND = timedelta(days=7)


class OthersNeedHer(Refusal):
    """Somebody else's work hangs on the account."""


def ask_to_delete_workshop(*, workshop: Workshop) -> None:
    """Let a workshop go in a week; a second click does not begin a new one."""
    moment = timezone.now() + TO_CHANGE_HER_MIND
    Workshop.objects.filter(pk=workshop.pk, delete_after=None).update(delete_after=moment)


def keep_workshop(*, workshop: Workshop) -> None:
    """Let it stay after all."""
    Workshop.objects.filter(pk=workshop.pk).update(delete_after=None)


def only_hers(user: User) -> list[Workshop]:
    """Return the workshops that nobody else belongs to: they go with the account."""
    return [row.workshop for row in _owned(user) if row.people == 1]


@transaction.atomic
def ask_to_delete_account(*, user: User) -> None:
    """Let an account go in a week, with the workshops that are only hers.

    Refused: OthersNeedHer.
    """
    refuse_if_needed(user)
    moment = timezone.now() + TO_CHANGE_HER_MIND
    if User.objects.filter(pk=user.pk, delete_after=None).update(delete_after=moment):
        going = [workshop.pk for workshop in only_hers(user)]
        Workshop.objects.filter(pk__in=going, delete_after=None).update(delete_after=moment)


@transaction.atomic
def keep_account(*, user: User) -> None:
    """Let it stay after all, with the workshops that were to go with it."""
    stored = User.objects.select_for_update().get(pk=user.pk)
    if stored.delete_after is not None:
        going = [workshop.pk for workshop in only_hers(user)]
        same = Workshop.objects.filter(pk__in=going, delete_after=stored.delete_after)
        same.update(delete_after=None)
        User.objects.filter(pk=user.pk).update(delete_after=None)


def refuse_if_needed(user: User) -> None:
    """Refuse while others could not go on without her. Refused: OthersNeedHer."""
    left = [
        str(row.workshop)
        for row in _owned(user)
        if row.people > 1 and row.owners == 1 and row.workshop.delete_after is None
    ]
    if left:
        raise OthersNeedHer(
            f"You are the only owner of {', '.join(left)}, and others belong to it. Make somebody "
            "else an owner, or delete the workshop first."
        )
    others = User.objects.exclude(pk=user.pk).filter(is_active=True)
    keepers = others.filter(looks_after_installation=True)
    if user.looks_after_installation and others.exists() and not keepers.exists():
        raise OthersNeedHer(
            "Nobody else looks after this installation. Choose who does it after you, on the "
            "computer it runs on: python3 manage.py look_after EMAIL"
        )


def something_is_due() -> bool:
    """Return whether a week is over."""
    now = timezone.now()
    return (
        Workshop.objects.filter(delete_after__lte=now).exists()
        or User.objects.filter(delete_after__lte=now).exists()
    )


def delete_what_is_due() -> None:
    """Remove the workshops and accounts whose week is over; safe to be begun again."""
    now = timezone.now()
    for workshop in Workshop.objects.filter(delete_after__lte=now).order_by("pk"):
        try:
            remove_workshop(workshop=workshop)
        except NotToBeRemoved:
            continue  # kept meanwhile
        logger.warning("workshop %s was deleted, as its owner asked", workshop.pk)
    for user in User.objects.filter(delete_after__lte=now).order_by("pk"):
        try:
            _delete_account(user)
        except OthersNeedHer as refusal:
            # things have changed in that week: it stays, and she can ask again
            logger.warning("account %s stays: %s", user.pk, refusal.message)
            User.objects.filter(pk=user.pk).update(delete_after=None)


@transaction.atomic
def _delete_account(user: User) -> None:
    due = User.objects.filter(pk=user.pk, delete_after__lte=timezone.now())
    stored = due.select_for_update().first()
    if stored is None:
        return  # kept meanwhile
    refuse_if_needed(stored)
    pk = stored.pk
    if only_hers(stored):
        raise OthersNeedHer("A workshop would be left that nobody could enter.")
    stored.delete()
    logger.warning("account %s was deleted, as its owner asked", pk)


@dataclass(frozen=True, slots=True)
class _Owned:
    """One workshop she owns, how many people belong to it and how many of them own it."""

    workshop: Workshop
    people: int
    owners: int


def _owned(user: User) -> list[_Owned]:
    mine = Workshop.objects.filter(memberships__in=Membership.objects.filter(user=user).owners())
    is_owner = Q(memberships__role=Membership.Role.OWNER)
    counted = Workshop.objects.filter(pk__in=mine).annotate(
        people=Count("memberships"), owners=Count("memberships", filter=is_owner)
    )
    return [_Owned(row, row.people, row.owners) for row in counted.order_by("name", "pk")]
