"""Finds the workshop and the person a command names."""

from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop


class NoSuchWorkshop(Refusal):
    """No workshop, or more than one, is meant by this name."""


class NoSuchPerson(Refusal):
    """Nobody signs in with this address."""


def workshop_named(name: str | None) -> Workshop:
    """Return the workshop with this address or name; without a name the only one there is.

    Where an example workshop has the name of a real one, the real one is meant.
    """
    workshops = list(Workshop.objects.order_by("is_demo", "name", "pk"))
    if name is None:
        meant = workshops
    else:
        meant = [row for row in workshops if row.slug == name] or [
            row for row in workshops if row.name == name
        ]
    real = [row for row in meant if not row.is_demo]
    if len(real or meant) == 1:
        return (real or meant)[0]
    if meant:
        which = ", ".join(f"{row.name} ({row.slug})" for row in meant[:20])
        raise NoSuchWorkshop(
            f"Say which workshop is meant, by its address in brackets: {which}.", where="workshop"
        )
    if name is None:
        raise NoSuchWorkshop("There is no workshop yet.", where="workshop")
    raise NoSuchWorkshop(f"There is no workshop “{name[:80]}”.", where="workshop")


def person_named(email: str) -> User:
    """Return the person who signs in with this address."""
    person = User.objects.filter(email=email.strip().lower()).first()
    if person is None:
        raise NoSuchPerson(f"Nobody signs in with “{email[:80]}”.", where="owner")
    return person
