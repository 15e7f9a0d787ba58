"""Records what is decided about prices that are off: changed, left until a day, left."""

import datetime
from dataclasses import replace
from decimal import ROUND_HALF_UP, Decimal

from django.db import transaction
from django.utils import timezone

from catalogue.designs.models import Design
from maker.accounts.models import User
from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.calc.price.ingredients import Ingredients, as_plain
from pricing.price_review.inputs import Checked, Today, explain
from pricing.price_review.models import PriceDecision
from pricing.price_review.review import OffQuote, checked_entry, price_of, today_with_timings
from pricing.price_tags.models import TagPrint
from pricing.prices.inputs import kept_item
from pricing.prices.models import PriceListEntry
from pricing.prices.services import refuse_below_lowest
from pricing.quotes.models import Quote

ZERO = Decimal(0)


class NothingToDecide(Refusal):
    """The price was replaced, the quote answered, or the cost cannot be told any more."""


class DayIsOver(Refusal):
    """Left until a day that is over already."""


def price_needed(checked: Checked, today: Today) -> Decimal | None:
    """Return the price of one that restores the wanted margin; None where none can be said."""
    explained = explain(checked, today)
    return explained.price_needed if explained else None


def _kept(amount: Decimal) -> Decimal:
    return amount.quantize(Decimal("0.000001"), rounding=ROUND_HALF_UP)


@transaction.atomic
def change_prices(
    *,
    workshop: Workshop,
    wanted: dict[int, Decimal | None],
    by: User,
    on: datetime.date,
    below_is_meant: bool = False,
) -> list[PriceListEntry]:
    """Ask new prices in one go: by entry id the price, None for the one that restores the margin.

    Each new price is kept with today's cost, the old one stays readable, and a decision says so.
    Prices replaced meanwhile are refused (NothingToDecide), those below today's lowest price too
    unless that is meant (BelowLowestPrice); nothing is changed then.
    """
    Workshop.objects.select_for_update(no_key=True).get(pk=workshop.pk)
    today = today_with_timings(workshop, on)
    entries = list(
        PriceListEntry.objects.of(workshop)
        .current()
        .filter(pk__in=list(wanted))
        .select_related("design__workshop", "version")
        .order_by("design_id", "pk")
    )
    if len(entries) < len(wanted):
        raise NothingToDecide("One of these prices has since been replaced. Check the list again.")
    # two people setting a price at once take turns at the design, as in ask_prices
    designs = sorted({entry.design_id for entry in entries})
    list(Design.objects.select_for_update(no_key=True).filter(pk__in=designs).order_by("pk"))
    now, made, decisions = timezone.now(), [], []
    for entry in entries:
        checked = checked_entry(entry, today)
        new, needed = _new_entry(entry, checked, wanted[entry.pk], today, by)
        if not below_is_meant:
            refuse_below_lowest(entry.design, new.price, new.floor_each)
        made.append(new)
        decisions.append(
            PriceDecision(
                workshop=workshop,
                entry=entry,
                kind=PriceDecision.Kind.CHANGE,
                cost_each=new.cost_each,
                price_each=entry.price,
                price_needed=needed,
                decided_by=by,
            )
        )
    PriceListEntry.objects.filter(pk__in=[entry.pk for entry in entries]).update(replaced_at=now)
    PriceDecision.objects.bulk_create(decisions)
    return PriceListEntry.objects.bulk_create(made)


def _new_entry(
    entry: PriceListEntry, checked: Checked, price: Decimal | None, today: Today, by: User
) -> tuple[PriceListEntry, Decimal]:
    explained = explain(checked, today)
    if explained is None or checked.now is None:
        raise NothingToDecide(
            f"“{entry.design}”: {checked.problem or 'no cost can be calculated.'}"
        )
    asked = explained.price_needed if price is None else price
    basis: Ingredients = replace(checked.now, price_each=asked)
    left = basis.left_at(asked)
    new = PriceListEntry(
        design_id=entry.design_id,
        version_id=entry.version_id,
        channel_id=entry.channel_id,
        colourway_id=entry.colourway_id,
        choices=entry.choices,
        made_at_once=entry.made_at_once,
        bought_at_once=entry.bought_at_once,
        price=asked,
        includes_tax=basis.rates.prices_include_tax,
        tax_rate=basis.rates.tax_rate,
        cost_each=_kept(basis.cost_each),
        floor_each=_kept(left.floor_each),
        target_each=_kept(explained.price_needed),
        basis=as_plain(basis),
        set_by=by,
    )
    return new, explained.price_needed


@transaction.atomic
def leave_price(
    *,
    workshop: Workshop,
    entry: PriceListEntry,
    until: datetime.date | None,
    note: str,
    by: User,
    on: datetime.date,
) -> PriceDecision:
    """Record that a price stays as it is: until a day, or while its cost stays near today's.

    Refusals: DayIsOver, NothingToDecide.
    """
    # whoever replaces the price at this moment is waited for
    Design.objects.select_for_update(no_key=True).get(pk=entry.design_id)
    entry.refresh_from_db(fields=["replaced_at"])
    if entry.replaced_at is not None:
        raise NothingToDecide("This price has since been replaced.")
    checked, today = price_of(workshop=workshop, entry=entry, on=on)
    if checked.now is None:
        raise NothingToDecide(checked.problem)
    return _leave(
        workshop,
        until,
        on,
        entry=entry,
        note=note,
        cost_each=_kept(checked.now.cost_each),
        price_each=entry.price,
        price_needed=price_needed(checked, today),
        decided_by=by,
    )


@transaction.atomic
def leave_quote(
    *,
    workshop: Workshop,
    off: OffQuote,
    until: datetime.date | None,
    note: str,
    by: User,
    on: datetime.date,
) -> PriceDecision:
    """Record that a sent quote stays as it is. Its figures are those of the whole.

    Refusals: DayIsOver, NothingToDecide.
    """
    quote = Quote.objects.select_for_update(no_key=True, of=("self",)).get(pk=off.quote_id)
    if quote.state != Quote.State.SENT:
        raise NothingToDecide("This quote has since been answered or revised.")
    return _leave(
        workshop,
        until,
        on,
        quote=quote,
        note=note,
        cost_each=_kept(off.cost_now),
        price_each=quote.total or ZERO,
        decided_by=by,
    )


def _leave(
    workshop: Workshop, until: datetime.date | None, on: datetime.date, **figures: object
) -> PriceDecision:
    if until is not None and until <= on:
        raise DayIsOver("Choose a future date.", where="until")
    kind = PriceDecision.Kind.UNTIL if until else PriceDecision.Kind.LEAVE
    return PriceDecision.objects.create(workshop=workshop, kind=kind, until=until, **figures)


@transaction.atomic
def settle_tags(*, printed: TagPrint) -> None:
    """Record that tags with an old price are dealt with: thrown away, or left on purpose."""
    key = ("design_id", "channel_id", "bought_at_once")
    same = {name: getattr(printed.entry, name) for name in key}
    old = PriceListEntry.objects.filter(**same, replaced_at__isnull=False).with_items()
    item = kept_item(printed.entry, printed.entry.version)
    entries = [entry for entry in old if kept_item(entry, printed.entry.version) == item]
    TagPrint.objects.filter(entry__in=entries, settled_at__isnull=True).update(
        settled_at=timezone.now()
    )


@transaction.atomic
def take_decision_back(*, decision: PriceDecision) -> None:
    """Let a decision count no more; it stays readable. A changed price is not changed back."""
    if decision.kind == PriceDecision.Kind.CHANGE:
        raise NothingToDecide("To change this price again, use the price list.")
    if decision.taken_back_at is None:
        decision.taken_back_at = timezone.now()
        decision.save(update_fields=["taken_back_at"])
