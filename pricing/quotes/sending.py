"""What happens to a quote once it leaves the house: sent, revised, accepted, declined, reopened."""

import datetime
import uuid
from decimal import Decimal
from typing import Any

from django.db import transaction

from catalogue.recipes.models import DesignVersion
from catalogue.recipes.services import freeze_version
from maker.accounts.models import User
from maker.calc.dates import short_date
from maker.calc.explanation import plain_text
from maker.calc.refusal import Refusal
from maker.web.words import sum_writer
from maker.workshop.models import Workshop
from pricing.calc.orders.line_ingredients import line_ingredients
from pricing.calc.orders.quote import with_deposit
from pricing.calc.price.ingredients import Ingredients, as_plain
from pricing.quotes.documents import document_of
from pricing.quotes.inputs import WorkedQuote, problems_in_words, work_out
from pricing.quotes.models import Quote, QuoteDrop, QuoteExtra, QuoteLine
from pricing.quotes.numbers import next_number
from pricing.quotes.services import NotADraft, locked, new_quote, refuse_unless_draft

ZERO = Decimal(0)
SERIES = "quote"
# what a revision takes over from the quote before it
COPIED = (
    *("customer_id", "channel_id", "title", "needed_on", "is_rush", "delivery", "deposit_share"),
    *("delivery_margin", "distance_cost"),
    *("intro", "terms", "own_notes"),
)
LINE_COPIED = (
    *("position", "design_id", "version_id", "colourway_id", "colourway_name", "choices"),
    *("quantity", "names", "description", "other_quantities", "price_asked"),
)
AGAIN = ("delivery", "delivery_margin", "distance_cost", "deposit_share", "intro", "terms")
EXTRA_COPIED = ("position", "kind", "reason", "amount", "share")
DROP_COPIED = ("position", "address", "quantity", "carrier", "minutes", "distance")


class CannotBeSent(Refusal):
    """Something on the draft must be mended first; the words say what."""


class AlreadySent(Refusal):
    """Sent by a click before this one, or by somebody else."""


class NotWaiting(Refusal):
    """Only a quote that was sent and waits for an answer can be accepted or declined."""


class Expired(Refusal):
    """The day until which the quote held is over."""


class NotAnswered(Refusal):
    """Only an answer can be taken back."""


def send_quote(*, quote: Quote, by: User, today: datetime.date) -> Quote:
    """Give the quote its number and keep everything it says as it is today.

    Numbers are without gaps: the number is taken in the transaction that sends. A revision keeps
    the number, and the one before it can no longer be accepted. Refusals: AlreadySent, NotADraft,
    CannotBeSent.
    """
    # sheets are planned here and remembered, so that nobody waits for them in the transaction
    work_out(Quote.objects.with_people().get(pk=quote.pk))
    return _send(quote, by, today)


@transaction.atomic
def _send(quote: Quote, by: User, today: datetime.date) -> Quote:
    # two people sending take turns at the workshop, and so at its numbers
    workshop = Workshop.objects.select_for_update(no_key=True).get(pk=quote.workshop.pk)
    held = locked(quote)
    if held.sent_on:
        raise AlreadySent(f"This quote was already sent, as {held}.")
    refuse_unless_draft(held)
    # the recipes must stay as they are while their figures are kept
    versions = held.lines.kept().values_list("version_id", flat=True)
    list(DesignVersion.objects.select_for_update().filter(pk__in=list(versions)).order_by("pk"))
    fresh = Quote.objects.with_people().get(pk=held.pk)
    worked = work_out(fresh)
    _refuse_unsendable(worked, today)
    before = locked(fresh.replaces) if fresh.replaces else None
    if before is not None:
        _refuse_answered(before)
        fresh.number = before.number
    else:
        fresh.number = next_number(workshop, SERIES, workshop.quote_prefix, today)
    fresh.state, fresh.sent_on, fresh.sent_by = Quote.State.SENT, today, by
    fresh.edit_number += 1
    if worked.price is None:
        raise CannotBeSent(problems_in_words(worked))
    fresh.total = worked.price.total
    document = document_of(worked, today)
    fresh.frozen = document | {"basis": _basis(worked)}
    fresh.save()
    _freeze_lines(worked, document)
    if before is not None:
        before.state = Quote.State.REPLACED
        before.edit_number += 1
        before.save(update_fields=["state", "edit_number"])
    return fresh


def _refuse_unsendable(worked: WorkedQuote, today: datetime.date) -> None:
    """Say everything that keeps a draft from being sent, at once."""
    quote, reasons = worked.quote, []
    if quote.customer.retired_on:
        reasons.append(f"“{quote.customer}” is archived. Restore the customer first.")
    if not quote.valid_until:
        reasons.append("The quote has no expiry date. Enter one.")
    elif quote.valid_until < today:
        reasons.append("The quote has expired. Choose a later date.")
    if not worked.lines:
        reasons.append("The quote is empty. Add a line.")
    for place, row in enumerate(worked.lines, 1):
        design = worked.versions[row.version_id].design
        if design.retired_on:
            reasons.append(
                f"Line {place}: “{design}” is archived: restore the design, or take the line off."
            )
    if worked.lines and worked.price is None:
        reasons.append(problems_in_words(worked))
    if reasons:
        raise CannotBeSent(" ".join(reasons))


def _refuse_answered(before: Quote) -> None:
    if before.state == Quote.State.ACCEPTED:
        raise CannotBeSent(
            f"{before} was accepted meanwhile, so this revision cannot take its place. Undo the "
            "acceptance first, or delete this revision."
        )
    if before.state == Quote.State.REPLACED:
        raise CannotBeSent(f"{before} already has another revision. Delete this draft.")


def _basis(worked: WorkedQuote) -> dict[str, Any]:
    """Return the rates everything was worked out with, and how; kept, never shown to a customer."""

    def plain(value: Any) -> Any:
        return plain_text(value) if isinstance(value, Decimal) else value

    rates, channel = worked.rates, worked.channel
    if rates is None or worked.price is None:
        raise CannotBeSent(problems_in_words(worked))
    return {
        "rates": {name: plain(getattr(rates, name)) for name in rates.__dataclass_fields__},
        "channel": {
            "name": channel.name,
            "rush_share": plain(channel.rush_share),
            "listing_fee": plain(channel.listing_fee),
            "tiers": [
                {name: plain(getattr(tier, name)) for name in tier.__dataclass_fields__}
                for tier in channel.tiers
            ],
        },
        "explanation": worked.price.explanation.as_dict(
            sum_writer(
                worked.quote.workshop.currency,
                worked.quote.workshop.locale,
                worked.quote.workshop.unit,
            )
        ),
        # each line's price with all it was worked out from, to lay beside a later one
        "lines": [as_plain(line) for line in ingredients_of_lines(worked)],
    }


def ingredients_of_lines(worked: WorkedQuote) -> tuple[Ingredients, ...]:
    """Return what the price of each line was worked out from: its share of the order."""
    if worked.rates is None or worked.price is None:
        raise CannotBeSent(problems_in_words(worked))
    quote = worked.quote
    return line_ingredients(
        worked.price,
        with_deposit(worked.channel, quote.deposit_share),
        worked.rates,
        is_rush=quote.is_rush,
        delivery=quote.delivery,
    )


def _freeze_lines(worked: WorkedQuote, document: dict[str, Any]) -> None:
    """Freeze versions, let go of lines taken off, and keep each line's figures with it."""
    for version in worked.versions.values():
        freeze_version(version)
    QuoteLine.objects.filter(quote=worked.quote, is_removed=True).delete()
    public, own = document["public"]["lines"], document["own"]["lines"]
    for row, said, figures in zip(worked.lines, public, own, strict=True):
        row.frozen = {key: said[key] for key in ("price_each", "amount")} | figures
        way = said["colourway"]
        row.colourway_name = way
    QuoteLine.objects.bulk_update(worked.lines, ["frozen", "colourway_name"])


@transaction.atomic
def revise_quote(*, quote: Quote, today: datetime.date) -> Quote:
    """Start a draft that will take a sent quote's place, or return the one there is.

    The newest recipe version is not taken by itself: the line says when there is a newer one.
    A revision that was thrown away comes back as it was. Refusals: NotWaiting.
    """
    held = locked(quote)
    if held.state == Quote.State.REPLACED:
        raise NotWaiting("This quote is replaced already. Make a revision of the newest one.")
    if held.state == Quote.State.ACCEPTED:
        raise NotWaiting(
            "This quote is accepted. Undo the acceptance first if something else is wanted."
        )
    if held.state not in (Quote.State.SENT, Quote.State.DECLINED):
        raise NotWaiting("Only a sent quote has revisions. Change the draft instead.")
    there = Quote.objects.filter(replaces=held).first()
    if there is not None:
        if there.state == Quote.State.DISCARDED:
            there.state = Quote.State.DRAFT
            there.edit_number += 1
            there.save(update_fields=["state", "edit_number"])
        return there
    made = Quote(
        replaces=held,
        revision=held.revision + 1,
        number=held.number,
        valid_until=today + datetime.timedelta(days=held.workshop.quote_valid_days),
        **{name: getattr(held, name) for name in COPIED},
    )
    made.save()
    QuoteLine.objects.bulk_create(
        QuoteLine(quote=made, **{name: getattr(row, name) for name in LINE_COPIED})
        for row in held.lines.kept()
    )
    _copy_beside_lines(held, made)
    return made


def _copy_beside_lines(held: Quote, made: Quote) -> None:
    """Copy discounts, charges and places of delivery."""
    QuoteExtra.objects.bulk_create(
        QuoteExtra(quote=made, **{name: getattr(row, name) for name in EXTRA_COPIED})
        for row in held.extras.order_by("position", "pk")
    )
    QuoteDrop.objects.bulk_create(
        QuoteDrop(quote=made, **{name: getattr(row, name) for name in DROP_COPIED})
        for row in held.drops.order_by("position", "pk")
    )


@transaction.atomic
def quote_again(*, quote: Quote, today: datetime.date, form_key: uuid.UUID | None = None) -> Quote:
    """Start a new draft for the same customer with the same lines; its figures are today's.

    What was of that one order stays behind: the date needed, the rush, her notes. The channel is
    left open where it is archived. Refusals: OutOfUse, AlreadySaved, NotWaiting (a draft).
    """
    held = locked(quote)
    if held.state in (Quote.State.DRAFT, Quote.State.DISCARDED):
        raise NotWaiting("This is a draft. Change it instead.")
    channel = held.channel if held.channel and not held.channel.retired_on else None
    made = new_quote(
        workshop=held.workshop,
        customer=held.customer,
        today=today,
        title=held.title,
        channel=channel,
        form_key=form_key,
    )
    for name in AGAIN:
        setattr(made, name, getattr(held, name))
    made.save(update_fields=AGAIN)
    QuoteLine.objects.bulk_create(
        QuoteLine(quote=made, **{name: getattr(row, name) for name in LINE_COPIED})
        for row in held.lines.kept()
    )
    _copy_beside_lines(held, made)
    return made


def _waiting(quote: Quote) -> Quote:
    held = locked(quote)
    if held.state == Quote.State.REPLACED:
        raise NotWaiting(
            "This quote was replaced by a revision and can no longer be answered. Answer the "
            "revision instead."
        )
    if held.state == Quote.State.ACCEPTED:
        raise NotWaiting(f"{held} is already accepted.")
    if held.state == Quote.State.DECLINED:
        raise NotWaiting(f"{held} was declined. Undo that first.")
    if held.state != Quote.State.SENT:
        raise NotWaiting("Only a sent quote can be answered.")
    return held


def _check_day(held: Quote, on: datetime.date, today: datetime.date) -> None:
    if on > today:
        raise NotWaiting("That date is in the future.", where="decided_on")
    if held.sent_on and on < held.sent_on:
        raise NotWaiting("That date is before the quote was sent.", where="decided_on")


@transaction.atomic
def accept_quote(*, quote: Quote, who: str, on: datetime.date, today: datetime.date) -> Quote:
    """Store that the customer said yes, who and on which day.

    Refusals: NotWaiting (replaced, answered, a day that cannot be), Expired.
    """
    held = _waiting(quote)
    _check_day(held, on, today)
    if held.valid_until and on > held.valid_until:
        raise Expired(
            f"{held} was valid until {short_date(held.valid_until)}. Make a revision with a later "
            "date and today's costs.",
            where="decided_on",
        )
    held.state, held.decided_on, held.decided_by = Quote.State.ACCEPTED, on, who
    held.reason, held.reason_note = Quote.Reason.NONE, ""
    held.edit_number += 1
    held.save()
    return held


@transaction.atomic
def decline_quote(
    *, quote: Quote, reason: str, note: str, on: datetime.date, today: datetime.date
) -> Quote:
    """Store that the customer said no, and why. Refusals: NotWaiting."""
    held = _waiting(quote)
    _check_day(held, on, today)
    held.state, held.decided_on, held.decided_by = Quote.State.DECLINED, on, ""
    held.reason, held.reason_note = reason, note
    held.edit_number += 1
    held.save()
    return held


@transaction.atomic
def reopen_quote(*, quote: Quote) -> Quote:
    """Take an answer back: the quote waits again, or is over by its day.

    Refusals: NotAnswered; NotADraft when a revision was sent since.
    """
    held = locked(quote)
    if held.state == Quote.State.REPLACED:
        raise NotADraft("A revision has replaced this quote.")
    if held.state not in (Quote.State.ACCEPTED, Quote.State.DECLINED):
        raise NotAnswered("There is no answer to undo.")
    held.state, held.decided_on, held.decided_by = Quote.State.SENT, None, ""
    held.reason, held.reason_note = Quote.Reason.NONE, ""
    held.edit_number += 1
    held.save()
    return held
