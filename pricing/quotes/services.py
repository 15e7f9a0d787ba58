"""Drafts of quotes and their lines: started, changed, thrown away and brought back."""

import datetime
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction
from django.db.models import Max

from catalogue.recipes.models import Colourway, DesignVersion
from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from maker.workshop.models import Workshop
from pricing.channels.models import Channel
from pricing.costs.inputs import workshop_rates
from pricing.customers.models import Customer
from pricing.quotes.delivering import DropInput, cost_of_drops
from pricing.quotes.inputs import names_of
from pricing.quotes.models import Quote, QuoteDrop, QuoteExtra, QuoteLine

ZERO = Decimal(0)
MOST_LINES = 400


class NotADraft(Refusal):
    """Only a draft can be changed; a sent quote gets a revision."""


class OutOfUse(Refusal):
    """Nothing new is quoted to a customer, or of a design, that is archived."""


class AlreadySaved(Refusal):
    """The same form was sent before; `quote` is what it made then."""

    def __init__(self, quote: Quote) -> None:
        super().__init__("You've already created this quote.")
        self.quote = quote


class NotThisQuote(Refusal):
    """A line, customer or channel that does not go with this quote."""


class TooMuch(Refusal):
    """More lines or names than fit."""


@dataclass(frozen=True, slots=True)
class Head:
    """What a quote says beside its lines."""

    customer: Customer
    channel: Channel | None = None
    title: str = ""
    needed_on: datetime.date | None = None
    valid_until: datetime.date | None = None
    is_rush: bool = False
    delivery: Decimal = ZERO
    deposit_share: Decimal | None = None
    intro: str = ""
    terms: str = ""
    own_notes: str = ""


@dataclass(frozen=True, slots=True)
class QuoteLineInput:
    """One line as typed. `choices`: option key -> choice key; `price_asked` None: worked out."""

    version: DesignVersion
    quantity: int
    colourway: Colourway | None = None
    choices: Mapping[str, str] | None = None
    names: str = ""
    description: str = ""
    price_asked: Decimal | None = None
    other_quantities: str = ""


@dataclass(frozen=True, slots=True)
class ExtraInput:
    """A discount or a charge as typed: an amount, or a share of the lines."""

    kind: str
    reason: str
    amount: Decimal | None = None
    share: Decimal | None = None


@transaction.atomic
def new_quote(
    *,
    workshop: Workshop,
    customer: Customer,
    today: datetime.date,
    title: str = "",
    channel: Channel | None = None,
    needed_on: datetime.date | None = None,
    form_key: uuid.UUID | None = None,
) -> Quote:
    """Start a draft with the workshop's terms and days. Refusals: OutOfUse, AlreadySaved."""
    # one at a time in a workshop, so that a second click finds what the first one made
    Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    if form_key is not None:
        before = Quote.objects.of(workshop).filter(form_key=form_key).first()
        if before is not None:
            raise AlreadySaved(before)
    _refuse_put_away(customer)
    return Quote.objects.create(
        customer=customer,
        channel=channel,
        title=title,
        needed_on=needed_on,
        valid_until=today + datetime.timedelta(days=workshop.quote_valid_days),
        terms=workshop.terms,
        form_key=form_key,
    )


def _refuse_put_away(customer: Customer) -> None:
    if customer.retired_on:
        raise OutOfUse(f"“{customer}” is archived. Restore the customer first.", where="customer")


def locked(quote: Quote) -> Quote:
    """Read a quote again and hold it until the end of the transaction."""
    return (
        Quote.objects.select_for_update(of=("self",))
        .select_related("customer__workshop", "channel", "replaces")
        .get(pk=quote.pk)
    )


def refuse_unless_draft(quote: Quote) -> None:
    """Raise NotADraft with what can be done instead."""
    if quote.state == Quote.State.DRAFT:
        return
    if quote.state == Quote.State.DISCARDED:
        raise NotADraft("This draft was deleted. Restore it first.")
    raise NotADraft("A sent quote is locked. Make a revision to change it.")


def _open(quote: Quote, edit_number: int | None) -> Quote:
    """Hold a draft for one change. Refusals: NotADraft, ChangedMeanwhile."""
    held = locked(quote)
    refuse_unless_draft(held)
    take_turn(held, edit_number)
    return held


@transaction.atomic
def save_quote(*, quote: Quote, head: Head, edit_number: int | None) -> Quote:
    """Store what a draft says beside its lines.

    Refusals: NotADraft, ChangedMeanwhile, OutOfUse, NotThisQuote.
    """
    held = _open(quote, edit_number)
    if head.customer.pk != held.customer_id:
        if held.replaces_id:
            raise NotThisQuote(
                "A revision stays with its customer. Create a new quote for another.",
                where="customer",
            )
        _refuse_put_away(head.customer)
    shop_pk = held.customer.workshop_id
    if head.customer.workshop_id != shop_pk or (
        head.channel is not None and head.channel.workshop_id != shop_pk
    ):
        raise NotThisQuote("Customer and channel must belong to this workshop.", where="customer")
    for name in Head.__dataclass_fields__:
        setattr(held, name, getattr(head, name))
    held.save()
    return held


def remember_total(*, quote: Quote, total: Decimal) -> None:
    """Keep what a draft came to when it was looked at, unless it was changed meanwhile."""
    drafts = Quote.objects.drafts().filter(pk=quote.pk, edit_number=quote.edit_number)
    drafts.update(seen_total=total, seen_edit=quote.edit_number)


def _check_line(quote: Quote, line: QuoteLineInput) -> None:
    design = line.version.design
    if design.workshop_id != quote.customer.workshop_id:
        raise NotThisQuote("The design must belong to this workshop.", where="design")
    if line.colourway is not None and line.colourway.version_id != line.version.pk:
        raise NotThisQuote("The colourway must be one of the design's.", where="colourway")
    names = len(names_of(line.names))
    if names > line.quantity:
        raise TooMuch(
            f"There are {names} names for {line.quantity} pieces. Raise the quantity, or leave "
            "some names out.",
            where="names",
        )


def _fill(row: QuoteLine, line: QuoteLineInput) -> None:
    row.design_id, row.version = line.version.design_id, line.version
    row.colourway = line.colourway
    row.colourway_name = line.colourway.name if line.colourway else ""
    row.choices = dict(line.choices or {})
    row.quantity, row.price_asked = line.quantity, line.price_asked
    row.names, row.description = line.names, line.description
    row.other_quantities = line.other_quantities


@transaction.atomic
def add_line(*, quote: Quote, line: QuoteLineInput, edit_number: int | None) -> QuoteLine:
    """Put a line at the end of a draft.

    Refusals: NotADraft, ChangedMeanwhile, OutOfUse (design), NotThisQuote, TooMuch.
    """
    held = _open(quote, edit_number)
    _check_line(held, line)
    if line.version.design.retired_on:
        raise OutOfUse(
            f"“{line.version.design}” is archived. Restore the design first.", where="design"
        )
    if held.lines.kept().count() >= MOST_LINES:
        raise TooMuch(f"A quote holds at most {MOST_LINES} lines. Create a second quote.")
    last = held.lines.aggregate(last=Max("position"))["last"]
    row = QuoteLine(quote=held, position=0 if last is None else last + 1)
    _fill(row, line)
    row.save()
    return row


@transaction.atomic
def change_line(*, row: QuoteLine, line: QuoteLineInput, edit_number: int | None) -> QuoteLine:
    """Change a line of a draft. Refusals as `add_line`; a design archived since may stay."""
    held = _open(row.quote, edit_number)
    _check_line(held, line)
    stored = held.lines.kept().filter(pk=row.pk).first()
    if stored is None:
        raise NotThisQuote("This line was removed. Restore it first.")
    _fill(stored, line)
    stored.save()
    return stored


def _line_of_draft(row: QuoteLine) -> QuoteLine:
    held = locked(row.quote)
    refuse_unless_draft(held)
    take_turn(held, held.edit_number)
    return QuoteLine.objects.select_for_update(of=("self",)).get(pk=row.pk, quote=held)


@transaction.atomic
def remove_line(*, row: QuoteLine) -> QuoteLine:
    """Take a line off a draft; it can be put back until the quote is sent. Refusal: NotADraft."""
    stored = _line_of_draft(row)
    stored.is_removed = True
    stored.save(update_fields=["is_removed"])
    return stored


@transaction.atomic
def put_line_back(*, row: QuoteLine) -> QuoteLine:
    """Put a line back where it stood. Refusal: NotADraft."""
    stored = _line_of_draft(row)
    stored.is_removed = False
    stored.save(update_fields=["is_removed"])
    return stored


@transaction.atomic
def move_line(*, row: QuoteLine, up: bool) -> None:
    """Let a line change places with the one before or after it; at the end nothing moves.

    Refusal: NotADraft.
    """
    stored = _line_of_draft(row)
    rows = list(QuoteLine.objects.filter(quote=stored.quote_id).kept())
    places = [each.pk for each in rows]
    if stored.pk not in places:
        raise NotThisQuote("This line was removed. Restore it first.")
    here = places.index(stored.pk)
    there = here + (-1 if up else 1)
    if 0 <= there < len(rows):
        rows[here], rows[there] = rows[there], rows[here]
        for place, each in enumerate(rows):
            each.position = place
        QuoteLine.objects.bulk_update(rows, ["position"])


@transaction.atomic
def save_extras(*, quote: Quote, extras: Sequence[ExtraInput], edit_number: int | None) -> Quote:
    """Store the discounts and charges of a draft. Refusals: NotADraft, ChangedMeanwhile."""
    held = _open(quote, edit_number)
    held.extras.all().delete()
    QuoteExtra.objects.bulk_create(
        QuoteExtra(
            quote=held,
            position=place,
            kind=extra.kind,
            reason=extra.reason,
            amount=extra.amount,
            share=extra.share,
        )
        for place, extra in enumerate(extras)
    )
    return held


@transaction.atomic
def save_delivery(
    *,
    quote: Quote,
    drops: Sequence[DropInput],
    distance_cost: Decimal | None,
    margin: Decimal | None,
    edit_number: int | None,
) -> Quote:
    """Store where a draft is taken; its delivery is what that costs today, net.

    Refusals: NotADraft, ChangedMeanwhile, and those of the hourly cost.
    """
    rates = workshop_rates(quote.workshop)
    hour = rates.wage_per_hour + rates.overhead_per_hour
    held = _open(quote, edit_number)
    had_drops = bool(held.drops.all().delete()[0])
    QuoteDrop.objects.bulk_create(
        QuoteDrop(
            quote=held,
            position=place,
            address=drop.address,
            quantity=drop.quantity,
            carrier=drop.carrier,
            minutes=drop.minutes,
            distance=drop.distance,
        )
        for place, drop in enumerate(drops)
    )
    held.distance_cost, held.delivery_margin = distance_cost if drops else None, margin
    # without places the amount typed on the quote stays
    if drops or had_drops:
        held.delivery = cost_of_drops(drops, hour, distance_cost, rates.currency_digits)
    held.save(update_fields=["distance_cost", "delivery_margin", "delivery"])
    return held


@transaction.atomic
def discard_draft(*, quote: Quote) -> Quote:
    """Throw a draft away; it can be brought back. Refusal: NotADraft."""
    held = locked(quote)
    refuse_unless_draft(held)
    held.state = Quote.State.DISCARDED
    held.edit_number += 1
    held.save(update_fields=["state", "edit_number"])
    return held


@transaction.atomic
def restore_draft(*, quote: Quote) -> Quote:
    """Bring a draft back that was thrown away. Refusal: NotADraft."""
    held = locked(quote)
    if held.state != Quote.State.DISCARDED:
        raise NotADraft("Only a deleted draft can be restored.")
    held.state = Quote.State.DRAFT
    held.edit_number += 1
    held.save(update_fields=["state", "edit_number"])
    return held
