"""Who belongs to a workshop, in which role, and how a new person gets her first password."""

from typing import TYPE_CHECKING

from django.contrib.auth.tokens import default_token_generator
from django.core import signing
from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.encoding import force_bytes
from django.utils.http import urlencode, urlsafe_base64_decode, urlsafe_base64_encode

from maker.accounts.models import Membership, User
from maker.accounts.second_steps import second_steps_of
from maker.calc.refusal import Refusal

if TYPE_CHECKING:
    from maker.workshop.models import Workshop

UNDO_SECONDS = 60 * 60
UNDO_SALT = "maker.accounts.bring_back"


class AlreadyHere(Refusal):
    """The person belongs to the workshop."""


class LastOwner(Refusal):
    """A workshop without an owner could never be changed again."""


class NoLinkForHer(Refusal):
    """A link that sets a password would let the inviter into somebody's account."""


class OwnStepFirst(Refusal):
    """Who asks others for a second step has one, and so knows the way."""


class UndoTooLate(Refusal):
    """What was to be taken back is too long ago or was tampered with."""


@transaction.atomic
def add_person(*, workshop_id: int, email: str, role: str) -> Membership:
    """Make the person with this address a member; she gets an account if she has none.

    Refusals: AlreadyHere.
    """
    user = User.objects.filter(email=email.strip().lower()).first()
    if user is None:
        user = User.objects.create_user(email.strip())
    elif not user.has_usable_password():
        # Links handed out by another workshop must not open the door to this one.
        user.set_unusable_password()
        user.save(update_fields=["password"])
    membership, is_new = Membership.objects.get_or_create(
        user=user, workshop_id=workshop_id, defaults={"role": role}
    )
    if not is_new:
        raise AlreadyHere(
            f"{user} is already a member. Change their role in the list.", where="email"
        )
    return membership


@transaction.atomic
def change_role(*, membership: Membership, role: str) -> None:
    """Give a member another role. Refusals: LastOwner."""
    if role != Membership.Role.OWNER:
        _make_sure_an_owner_stays(membership)
    membership.role = role
    membership.save(update_fields=["role"])


@transaction.atomic
def remove_person(*, membership: Membership) -> None:
    """Take a member out of the workshop; her account and what she did stay. Refusals: LastOwner."""
    _make_sure_an_owner_stays(membership)
    membership.delete()


def _make_sure_an_owner_stays(leaving: Membership) -> None:
    # Locked, so that two owners who leave in the same moment do not both see the other.
    owners = Membership.objects.filter(workshop_id=leaving.workshop_id).owners()
    if [owner.pk for owner in owners.order_by("pk").select_for_update()] == [leaving.pk]:
        raise LastOwner(
            f"{leaving.user} is the only owner, and a workshop needs one. "
            "Make somebody else an owner first."
        )


def removal_mark(membership: Membership) -> str:
    """Return a signed text by which `bring_back` knows whom to take in again."""
    what = [membership.workshop_id, membership.user_id, str(membership.role)]
    return signing.dumps(what, salt=UNDO_SALT)


@transaction.atomic
def bring_back(*, workshop_id: int, mark: str) -> Membership:
    """Undo a removal of the last hour. Refusals: UndoTooLate, AlreadyHere."""
    try:
        where, user_id, role = signing.loads(mark, salt=UNDO_SALT, max_age=UNDO_SECONDS)
    except signing.BadSignature as error:
        raise UndoTooLate("That is too long ago to undo. Add the person again.") from error
    if where != workshop_id:
        raise UndoTooLate("That was undone in another workshop.")
    membership, is_new = Membership.objects.get_or_create(
        user_id=user_id, workshop_id=workshop_id, defaults={"role": role}
    )
    if not is_new:
        raise AlreadyHere(f"{membership.user} is already a member.")
    return membership


def welcome_path(membership: Membership) -> str:
    """Return the path, good once and for three days, on which she chooses her first password.

    Only for an account that never had a password and belongs to this workshop alone: else its
    owner could let herself into somebody's account. Refusals: NoLinkForHer.
    """
    user = membership.user
    if user.has_usable_password():
        raise NoLinkForHer(f"{user} already has a password.")
    if user.memberships.count() > 1:
        raise NoLinkForHer(
            f"{user} was invited by another workshop too. Whoever looks after this installation "
            f"can set the first password: manage.py changepassword {user.email}"
        )
    key = default_token_generator.make_token(user)
    who = urlsafe_base64_encode(force_bytes(user.pk))
    # in the query, because paths are logged
    return f"{reverse('maker:welcome')}?{urlencode({'who': who, 'key': key})}"


def person_of_link(who: str, key: str) -> User | None:
    """Return whose link this is, or None when it is wrong, used or out of date."""
    try:
        pk = int(urlsafe_base64_decode(who))
        user = User.objects.filter(pk=pk, is_active=True).first()
    except (ValueError, OverflowError):
        return None
    if user is None or user.has_usable_password():
        return None
    return user if default_token_generator.check_token(user, key) else None


def ask_for_second_step(*, workshop: "Workshop", owner: User, asks: bool) -> None:
    """Ask the people of a workshop for a second step from now on, or leave it to each of them.

    Asked already, the moment from which it counts stays. Refusals: OwnStepFirst.
    """
    if asks and workshop.second_step_since:
        return
    if asks and not second_steps_of(owner).is_on:
        raise OwnStepFirst("Set up your own second step first, under Account, Second step.")
    workshop.second_step_since = timezone.now() if asks else None
    workshop.save(update_fields=["second_step_since"])
