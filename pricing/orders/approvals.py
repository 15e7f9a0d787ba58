"""The proof and the list of names: approved by the customer, corrected until then."""

import datetime
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from django.db import transaction

from catalogue.recipes.models import Fixing, Step
from maker.calc.refusal import Refusal
from pricing.orders.inputs import lines_now
from pricing.orders.models import Order, OrderApproval
from pricing.orders.services import BY_HAND, NotPossibleNow, locked
from pricing.quotes.inputs import names_of
from pricing.quotes.models import QuoteLine

Kind = OrderApproval.Kind
LONGEST_NAMES = 40_000  # characters a line's names may have
PER_NAME = "name"


class NamesLocked(Refusal):
    """The list of names was approved."""


class BadNames(Refusal):
    """Names that do not fit what was ordered."""


class ApprovedAlready(Refusal):
    """It was approved before."""


@dataclass(frozen=True, slots=True)
class NamedLine:
    """A line that bears names: at most so many as its price counts."""

    line: QuoteLine
    names: tuple[str, ...]
    most: int


def named_lines(order: Order, lines: Sequence[QuoteLine] | None = None) -> list[NamedLine]:
    """Return the lines that bear names, by recipe or as quoted (four queries).

    `lines` are those of now, where they are read already (two queries).
    """
    if lines is None:
        lines = lines_now(order)
    said = [len(row["names"]) for row in order.quote.frozen["public"]["lines"]]
    quoted = dict(zip(order.quote.lines.kept().values_list("pk", flat=True), said, strict=False))
    per_name = _made_per_name({line.version_id for line in lines})
    found = []
    for line in lines:
        names = tuple(names_of(line.names))
        agreed = quoted.get(line.pk, len(names))
        if agreed or line.version_id in per_name:
            # names counted by the price; with none quoted there is one for each item
            most = min(agreed or line.quantity, line.quantity)
            found.append(NamedLine(line, names, most))
    return found


def _made_per_name(versions: Collection[int]) -> set[int]:
    """Return those of recipes that use something, or do some work, for each name."""
    fixings, steps = (
        model.objects.filter(version__in=versions, basis=PER_NAME).values_list("version", flat=True)
        for model in (Fixing, Step)
    )
    return set(fixings.union(steps))


@transaction.atomic
def save_names(*, order: Order, names: Mapping[int, str]) -> Order:
    """Store the names of lines, one to a row, by key of the line.

    Refusals: NamesLocked, BadNames, NotPossibleNow.
    """
    held = locked(order)
    _refuse_closed(held)
    if held.approvals.filter(kind=Kind.NAMES).exists():
        raise NamesLocked("The names are approved and locked. Ask to have them unlocked.")
    for each in named_lines(held):
        text = names.get(each.line.pk)
        if text is None:
            continue
        typed = names_of(text)
        if len(typed) > each.most:
            raise BadNames(
                f"{len(typed):,} names are more than {each.most} ordered for {each.line.design}. "
                f"Enter at most {each.most}."
            )
        kept = "\n".join(typed)
        if len(kept) > LONGEST_NAMES:
            raise BadNames(f"The names of {each.line.design} are too long. Shorten them.")
        QuoteLine.objects.filter(pk=each.line.pk).update(names=kept)
    return held


def _refuse_closed(order: Order) -> None:
    if order.state not in BY_HAND:
        raise NotPossibleNow(f"Order {order} is {order.get_state_display()}.")
    if order.names_deleted_on:
        raise NotPossibleNow("The names of this order were deleted.")


@transaction.atomic
def approve(
    *, order: Order, kind: str, who: str, how: str, on: datetime.date, today: datetime.date
) -> OrderApproval:
    """Store the customer's yes to the proof or the names.

    Refusals: ApprovedAlready, NotPossibleNow, BadNames where a name is missing or there are none.
    """
    held = locked(order)
    _refuse_closed(held)
    there = held.approvals.filter(kind=kind).first()
    if there is not None:
        raise ApprovedAlready(f"The {there.get_kind_display()} was approved by {there.decided_by}.")
    if on > today:
        raise NotPossibleNow("That date is in the future.", where="on")
    if kind == Kind.NAMES:
        named = named_lines(held)
        if not named:
            raise BadNames("No item in this order has a name on it.")
        for each in named:
            if len(each.names) < each.most:
                raise BadNames(
                    f"{each.line.design}: {len(each.names)} of {each.most} names are entered. "
                    "Enter all first."
                )
    return OrderApproval.objects.create(
        order=held, kind=kind, decided_on=on, decided_by=who, decided_how=how
    )


@transaction.atomic
def undo_approval(*, order: Order, kind: str) -> None:
    """Let the proof or the names be changed again. Refusals: NotPossibleNow."""
    held = locked(order)
    _refuse_closed(held)
    if not held.approvals.filter(kind=kind).delete()[0]:
        raise NotPossibleNow("There is no approval to undo.")
