"""Enquiries kept, declined, opened again, and made into quotes."""

import datetime
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db import transaction

from catalogue.recipes.models import DesignVersion
from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from maker.workshop.models import Workshop
from pricing.channels.models import Channel
from pricing.enquiries.inputs import lines_wanted
from pricing.enquiries.models import Enquiry, EnquiryDrop
from pricing.quotes.inputs import names_of
from pricing.quotes.models import Quote, QuoteDrop
from pricing.quotes.services import QuoteLineInput, add_line, discard_draft, new_quote


class NotOpen(Refusal):
    """Only an open enquiry is answered."""


class AlreadyKept(Refusal):
    """The same form was sent before; `enquiry` is what it made then."""

    def __init__(self, enquiry: Enquiry) -> None:
        super().__init__("You've already saved this enquiry.")
        self.enquiry = enquiry


@dataclass(frozen=True, slots=True)
class DropInput:
    """A place it goes to, as typed."""

    address: str = ""
    quantity: int | None = None
    distance: Decimal | None = None


@transaction.atomic
def save_enquiry(
    *, enquiry: Enquiry, drops: Sequence[DropInput], edit_number: int | None = None
) -> Enquiry:
    """Store a new or changed enquiry with the places it goes to.

    Refusals: ChangedMeanwhile, AlreadyKept for a second click on a new one.
    """
    if enquiry.pk:
        take_turn(enquiry, edit_number)
    elif enquiry.form_key:
        # one at a time in a workshop, so that a second click finds what the first one made
        Workshop.objects.select_for_update(no_key=True).get(pk=enquiry.customer.workshop_id)
        before = Enquiry.objects.filter(form_key=enquiry.form_key).first()
        if before is not None:
            raise AlreadyKept(before)
    enquiry.save()
    enquiry.drops.all().delete()
    EnquiryDrop.objects.bulk_create(
        EnquiryDrop(
            enquiry=enquiry,
            position=place,
            address=drop.address,
            quantity=drop.quantity,
            distance=drop.distance,
        )
        for place, drop in enumerate(drops)
    )
    return enquiry


def _held(enquiry: Enquiry) -> Enquiry:
    return (
        Enquiry.objects.select_for_update(of=("self",))
        .select_related("customer__workshop", "quote")
        .get(pk=enquiry.pk)
    )


@transaction.atomic
def quote_enquiry(
    *,
    enquiry: Enquiry,
    today: datetime.date,
    channel: Channel | None,
    version: DesignVersion | None = None,
    choices: Mapping[str, str] | None = None,
    form_key: uuid.UUID | None = None,
) -> Quote:
    """Make the draft of a quote with all the enquiry says, and lines of a design if one is given.

    The names move to the lines: they are kept once. Refusals: NotOpen, and those of a quote and
    its lines (an archived customer or design, more names than items).
    """
    held = _held(enquiry)
    if held.quote and held.state == Enquiry.State.QUOTED:
        raise NotOpen(f"This enquiry already has {_named(held.quote)}.")
    if held.state != Enquiry.State.OPEN:
        raise NotOpen("This enquiry is declined. Reopen it first.")
    quote = new_quote(
        workshop=held.workshop,
        customer=held.customer,
        today=today,
        title=held.title,
        channel=channel,
        form_key=form_key,
    )
    QuoteDrop.objects.bulk_create(
        QuoteDrop(
            quote=quote,
            position=drop.position,
            address=drop.address,
            quantity=drop.quantity,
            distance=drop.distance,
        )
        for drop in held.drops.order_by("position", "pk")
    )
    quote.needed_on = held.needed_on
    quote.own_notes = said_of(held)
    quote.save(update_fields=["needed_on", "own_notes"])
    if version is not None:
        _add_lines(quote, held, version, choices)
        held.names = ""
    held.state, held.quote = Enquiry.State.QUOTED, quote
    held.edit_number += 1
    held.save()
    return Quote.objects.get(pk=quote.pk)


def _add_lines(
    quote: Quote, enquiry: Enquiry, version: DesignVersion, choices: Mapping[str, str] | None
) -> None:
    """Add a line for each colourway that was asked for; names fill them in their order.

    Other quantities are of the whole, so they go with a single line only.
    """
    lines, names = lines_wanted(enquiry, version), names_of(enquiry.names)
    for place, (colourway, quantity) in enumerate(lines):
        is_last = place == len(lines) - 1
        mine, names = (names, []) if is_last else (names[:quantity], names[quantity:])
        others = enquiry.wanted[1:] if len(lines) == 1 else ()
        add_line(
            quote=quote,
            line=QuoteLineInput(
                version=version,
                quantity=quantity,
                colourway=colourway,
                choices=choices,
                names="\n".join(mine),
                other_quantities=", ".join(str(each) for each in others),
            ),
            edit_number=quote.edit_number + place,
        )


def _named(quote: Quote) -> str:
    return f"quote {quote}" if quote.number else "a draft quote"


def said_of(enquiry: Enquiry) -> str:
    """Return what a quote has no place for, as private notes."""
    lines = []
    if enquiry.quantities:
        lines.append(f"Quantity: {enquiry.quantities}")
    if enquiry.contents:
        lines.append(f"Contents: {enquiry.contents}")
    if enquiry.colours:
        lines.append(f"Colours: {enquiry.colours}")
    if enquiry.notes:
        lines.append(enquiry.notes)
    return "\n".join(lines)[:4000]


@transaction.atomic
def decline_enquiry(*, enquiry: Enquiry, reason: str, on: datetime.date) -> Enquiry:
    """Say no to an enquiry, or that nothing came of it. Refusals: NotOpen."""
    held = _held(enquiry)
    if held.state != Enquiry.State.OPEN:
        raise NotOpen("Only an open enquiry can be declined.")
    held.state, held.declined_on, held.decline_reason = Enquiry.State.DECLINED, on, reason
    held.edit_number += 1
    held.save()
    return held


@transaction.atomic
def reopen_enquiry(*, enquiry: Enquiry) -> Enquiry:
    """Open an enquiry again; a quote made of it stays a quote. Refusals: NotOpen."""
    held = _held(enquiry)
    if held.state == Enquiry.State.OPEN:
        raise NotOpen("This enquiry is open.")
    if held.quote and held.quote.state not in (Quote.State.DRAFT, Quote.State.DISCARDED):
        raise NotOpen(f"Quote {held.quote} was sent. Revise the quote instead.")
    held.state, held.quote = Enquiry.State.OPEN, None
    held.declined_on, held.decline_reason = None, ""
    held.edit_number += 1
    held.save()
    return held


@transaction.atomic
def undo_quote(*, enquiry: Enquiry) -> Enquiry:
    """Delete the draft made of an enquiry; the names come back to it. Refusals: NotOpen."""
    held = _held(enquiry)
    if held.quote is None or held.quote.state != Quote.State.DRAFT:
        raise NotOpen("Only a draft quote can be undone.")
    if not held.names:
        names = [row.names for row in held.quote.lines.kept() if row.names]
        held.names = "\n".join(names)[:40_000]
    discard_draft(quote=held.quote)
    held.state, held.quote = Enquiry.State.OPEN, None
    held.edit_number += 1
    held.save()
    return held
