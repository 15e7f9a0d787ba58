"""Finds the workshop and the person a command names."""

from collections.abc import Sequence

from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop


class NoSuchWorkshop(Refusal):
    """No workshop, or more than one, is meant by this name."""


class NoSuchPerson(Refusal):
    """Nobody signs in with this address."""


def workshop_named(name: str | None) -> Workshop:
    """Return the workshop with this address or name; without a name the only one there is."""
    workshops = list(Workshop.objects.order_by("is_demo", "name", "pk"))
    if name is None:
        meant = workshops
    else:
        meant = [row for row in workshops if row.slug == name] or [
            row for row in workshops if row.name == name
        ]
    chosen = the_one_meant(meant)
    if chosen is not None:
        return chosen
    if meant:
        raise NoSuchWorkshop(
            f"Choose a workshop by its address in brackets: {listed(meant)}.",
            where="workshop",
        )
    if name is None:
        raise NoSuchWorkshop("There is no workshop yet.", where="workshop")
    raise NoSuchWorkshop(f"There is no workshop “{name[:80]}”.", where="workshop")


def the_one_meant(workshops: Sequence[Workshop]) -> Workshop | None:
    """Return the one real workshop of several; with none, the oldest of copies of one example."""
    real = [row for row in workshops if not row.is_demo]
    if real:
        return real[0] if len(real) == 1 else None
    if len({row.name for row in workshops}) == 1:
        return min(workshops, key=lambda row: row.pk)
    return None


def listed(workshops: Sequence[Workshop]) -> str:
    """Name workshops with their addresses, so that one can be picked."""
    return ", ".join(f"{row.name} ({row.slug})" for row in workshops[:20])


def person_named(email: str) -> User:
    """Return the person who signs in with this address."""
    person = User.objects.filter(email=email.strip().lower()).first()
    if person is None:
        raise NoSuchPerson(f"Nobody signs in with “{email[:80]}”.", where="owner")
    return person
