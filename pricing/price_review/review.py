"""Finds list prices, open quotes and tags that today's costs have left behind. Writes nothing."""

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal

from django.db import models
from django.db.models.functions import Cast
from django.utils import timezone

from catalogue.recipes.models import DesignVersion
from maker.kept import Kept
from maker.workshop.models import Workshop
from pricing.calc.changes.repricing import Repricing
from pricing.price_review.inputs import Checked, Today, check, explain, today_of
from pricing.price_review.kept_checks import KEPT_CHECKS
from pricing.price_review.kept_reviews import review_content
from pricing.price_review.models import PriceDecision
from pricing.price_tags.models import TagPrint
from pricing.prices.inputs import kept_item
from pricing.prices.models import PriceListEntry
from pricing.quotes.models import LONG, Quote, QuoteLine
from pricing.times.standards import timed_changes

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class OffPrice:
    """A price of the list that is off, by key, and the key of the decision that holds for it."""

    entry_id: int
    checked: Checked
    decision_id: int | None = None


@dataclass(frozen=True, slots=True)
class OffQuote:
    """An open quote that is off, by key: its lines, by place."""

    quote_id: int
    lines: tuple[Checked, ...]

    @property
    def cost_then(self) -> Decimal:
        """What the whole cost when it was sent."""
        return sum((line.then.cost for line in self.lines if line.then), ZERO)

    @property
    def cost_now(self) -> Decimal:
        """What the whole costs today."""
        return sum((line.now.cost for line in self.lines if line.now), ZERO)


@dataclass(frozen=True, slots=True)
class Review:
    """Everything priced that is off on a day. `settled` are those a decision still covers.

    Tags are given by key, the last printed first. `reasons` are why prices are off, by key, as far
    as somebody asked.
    """

    today: Today
    prices: tuple[OffPrice, ...]
    quotes: tuple[OffQuote, ...]
    tags: tuple[int, ...]
    settled: int
    checked: int
    not_kept: int
    reasons: dict[int, Repricing | None] = field(default_factory=dict, compare=False)

    def why(self, off: OffPrice) -> Repricing | None:
        """Return why a price is off, worked out once; None where it cannot be said."""
        if off.entry_id not in self.reasons:
            self.reasons[off.entry_id] = explain(off.checked, self.today)
        return self.reasons[off.entry_id]


# some 2 MB for each 1,000 prices
_REVIEWS: Kept[Review] = Kept(4)


def review_prices(*, workshop: Workshop, on: datetime.date) -> Review:
    """Check every price of the list and every open quote; the number of queries is fixed.

    No cutting plan is made: amounts and minutes are those the prices were set against. A price
    that a decision covers (until its day, or while the cost stays near what was seen then) is
    settled. Refused when overhead has no hours to be shared over.
    """
    return _REVIEWS.result_of(
        lambda: review_content(workshop, on),
        lambda: look_through(workshop, today_with_timings(workshop, on)),
    )


def look_through(workshop: Workshop, today: Today) -> Review:
    """Compare everything priced with a day, one after the other."""
    settled, not_kept = 0, 0
    listed = PriceListEntry.objects.of(workshop).current().in_use().in_order()
    # as text: most need not be parsed, their check against the same day is kept
    listed = listed.annotate(basis_text=Cast("basis", models.TextField()))
    decisions = _decisions(workshop)
    checks = KEPT_CHECKS.against(today)
    off: list[OffPrice] = []
    count = 0
    for pk, version_id, channel_id, set_at, basis in listed.values_list(
        "pk", "version_id", "channel_id", "set_at", "basis_text"
    ):
        count += 1
        checked = checks.check(
            basis,
            version_id=version_id,
            channel_id=channel_id,
            set_on=timezone.localdate(set_at),
            today=today,
        )
        not_kept += basis is None
        if not checked.triggers and not checked.problem:
            continue
        decision = decisions.get(("entry", pk))
        if decision and _covers(decision, checked, today):
            settled += 1
        elif basis is not None:
            off.append(OffPrice(pk, checked, decision.pk if decision else None))
    quotes, settled_quotes, open_quotes = _off_quotes(workshop, today, decisions)
    return Review(
        today=today,
        prices=tuple(off),
        quotes=tuple(quotes),
        tags=tuple(_outdated_tags(workshop)),
        settled=settled + settled_quotes,
        checked=count + open_quotes,
        not_kept=not_kept,
    )


def today_with_timings(workshop: Workshop, on: datetime.date) -> Today:
    """Return what holds on a day, with what was timed. Refused when overhead has no hours."""
    return replace(today_of(workshop, on), timed=_timed(workshop))


def checked_entry(entry: PriceListEntry, today: Today) -> Checked:
    """Compare one price of the list with today; no query."""
    return check(
        entry.basis,
        version_id=entry.version_id,
        channel_id=entry.channel_id,
        set_on=timezone.localdate(entry.set_at),
        today=today,
    )


def _timed(workshop: Workshop) -> dict[int, dict[str, Decimal]]:
    """Return how far timed minutes are from the recipes of everything priced (four queries)."""
    listed = PriceListEntry.objects.of(workshop).current().values("version_id")
    quoted = QuoteLine.objects.of(workshop).filter(quote__state=Quote.State.SENT)
    versions = DesignVersion.objects.of(workshop).filter(
        models.Q(pk__in=listed) | models.Q(pk__in=quoted.values("version_id"))
    )
    return timed_changes(versions.filter(design__runs__isnull=False).values_list("pk", flat=True))


def _decisions(workshop: Workshop) -> dict[tuple[str, int], PriceDecision]:
    """Return the newest decision that holds for each price and quote (one query)."""
    newest: dict[tuple[str, int], PriceDecision] = {}
    for decision in PriceDecision.objects.of(workshop).holding().newest_first():
        key = ("entry", decision.entry_id) if decision.entry_id else ("quote", decision.quote_id)
        newest.setdefault((key[0], key[1] or 0), decision)
    return newest


def _covers(decision: PriceDecision, checked: Checked, today: Today) -> bool:
    """Say whether a decision still holds for what is off now."""
    if decision.kind == PriceDecision.Kind.UNTIL:
        return decision.until is not None and today.on < decision.until
    if decision.kind == PriceDecision.Kind.CHANGE or checked.now is None:
        return False
    return _is_near(checked.now.cost_each, decision.cost_each, today)


def _is_near(cost: Decimal, seen: Decimal, today: Today) -> bool:
    return bool(seen) and abs(cost / seen - 1) <= today.threshold


def _off_quotes(
    workshop: Workshop, today: Today, decisions: dict[tuple[str, int], PriceDecision]
) -> tuple[list[OffQuote], int, int]:
    waiting = (
        Quote.objects.of(workshop)
        .waiting(today.on)
        .only("channel", "frozen")
        # what was frozen is in the quote too, and is long
        .prefetch_related(models.Prefetch("lines", QuoteLine.objects.defer("frozen", "names")))
        .order_by("valid_until", "pk")
    )
    found, settled, count = [], 0, 0
    for quote in waiting:
        count += 1
        kept = quote.frozen.get("basis", {}).get("lines", [])
        rows = sorted(
            (row for row in quote.lines.all() if not row.is_removed),
            key=lambda row: (row.position, row.pk),
        )
        lines = tuple(
            check(
                basis,
                version_id=row.version_id,
                channel_id=quote.channel_id,
                set_on=today.on,
                today=today,
                is_order=True,
            )
            for row, basis in zip(rows, kept, strict=False)
        )
        if not any(line.triggers for line in lines):
            continue
        off = OffQuote(quote.pk, lines)
        decision = decisions.get(("quote", quote.pk))
        if decision and _covers_quote(decision, off, today):
            settled += 1
        else:
            found.append(off)
    return found, settled, count


def _covers_quote(decision: PriceDecision, off: OffQuote, today: Today) -> bool:
    if decision.kind == PriceDecision.Kind.CHANGE:
        return False
    if decision.kind == PriceDecision.Kind.UNTIL:
        return decision.until is not None and today.on < decision.until
    return _is_near(off.cost_now, decision.cost_each, today)


def _outdated_tags(workshop: Workshop) -> Iterable[int]:
    """Return the keys of tags printed for a price that another one has replaced since.

    Tags printed again for the new price settle it, and so does her word.
    """
    prints = (
        TagPrint.objects.of(workshop)
        .filter(
            entry__replaced_at__isnull=False,
            settled_at__isnull=True,
            entry__in=PriceListEntry.objects.in_use(),
        )
        .select_related("entry__colourway")
        .defer("entry__basis")
        .newest_first()
    )
    # only what tells them apart: whole rows hold all they were set against
    current = (
        PriceListEntry.objects.of(workshop)
        .current()
        .filter(design__in=[each.entry.design_id for each in prints])
        .with_items()
        .defer("basis")
    )
    by_place: dict[tuple[int, ...], list[PriceListEntry]] = {}
    for entry in current:
        by_place.setdefault(_place(entry), []).append(entry)
    printed = set(
        TagPrint.objects.of(workshop)
        .filter(entry__replaced_at__isnull=True)
        .values_list("entry_id", flat=True)
    )
    seen: set[int] = set()
    for each in prints:
        now = _price_now(each.entry, by_place)
        if now is None or now.pk in printed | seen or now.price == each.entry.price:
            continue
        seen.add(now.pk)
        yield each.pk


def _place(entry: PriceListEntry) -> tuple[int, ...]:
    return entry.design_id, entry.channel_id, entry.bought_at_once


def _price_now(
    entry: PriceListEntry, by_place: Mapping[tuple[int, ...], list[PriceListEntry]]
) -> PriceListEntry | None:
    """Return the price that took a price's place: of the same item, channel and quantity."""
    for now in by_place.get(_place(entry), []):
        if kept_item(entry, now.version) == kept_item(now, now.version):
            return now
    return None


def price_of(
    *, workshop: Workshop, entry: PriceListEntry, on: datetime.date
) -> tuple[Checked, Today]:
    """Return one price compared with a day, off or not. Refused when overhead has no hours."""
    today = replace(today_of(workshop, on), timed=timed_changes([entry.version_id]))
    return checked_entry(entry, today), today


@dataclass(frozen=True, slots=True)
class Whole:
    """The lines of a quote together: what is asked for them, what would restore the margins.

    Causes are money of the whole, the largest first; they add up to the change of its cost.
    """

    asked: Decimal
    needed: Decimal
    margin_then: Decimal | None
    margin_now: Decimal | None
    causes: tuple[tuple[str, Decimal], ...]


def whole_of(off: OffQuote, today: Today) -> Whole:
    """Return why a quote is off; lines that cannot be compared with today count as they were."""
    asked = needed = net_then = net_now = profit_then = profit_now = ZERO
    causes: dict[str, Decimal] = {}
    for line in off.lines:
        then, why = line.then, explain(line, today)
        if then is None:
            continue
        now = then if line.now is None or why is None else line.now
        left_then, left_now = then.left_at(then.price_each), now.left_at(then.price_each)
        asked += then.price_each * then.quantity
        needed += (then.price_each if why is None else why.price_needed) * then.quantity
        net_then, net_now = net_then + left_then.net, net_now + left_now.net
        profit_then, profit_now = profit_then + left_then.profit, profit_now + left_now.profit
        for step in why.causes if why else ():
            causes[step.label] = causes.get(step.label, ZERO) + step.exact * then.quantity
    return Whole(
        asked=asked,
        needed=needed,
        margin_then=profit_then / net_then if net_then else None,
        margin_now=profit_now / net_now if net_now else None,
        causes=tuple(sorted(causes.items(), key=lambda cause: -abs(cause[1]))),
    )


@dataclass(frozen=True, slots=True)
class ShownPrice:
    """A price that is off as its page shows it: why, and the last decision about it."""

    entry: PriceListEntry
    checked: Checked
    why: Repricing | None
    decision: PriceDecision | None = None


def shown_prices(off: Sequence[OffPrice], review: Review) -> list[ShownPrice]:
    """Return the prices of one page with why they are off (up to four queries)."""
    entries = (
        PriceListEntry.objects.with_items().defer("basis").in_bulk([each.entry_id for each in off])
    )
    decided = [each.decision_id for each in off if each.decision_id]
    decisions = PriceDecision.objects.in_bulk(decided) if decided else {}
    return [
        ShownPrice(
            entries[each.entry_id],
            each.checked,
            review.why(each),
            decisions.get(each.decision_id or 0),
        )
        for each in off
        # removed since it was looked at
        if each.entry_id in entries
    ]


def shown_quotes(off: Sequence[OffQuote]) -> list[tuple[Quote, OffQuote]]:
    """Return the open quotes that are off with their rows (up to one query)."""
    rows = Quote.objects.select_related("customer__workshop").defer(*LONG)
    quotes = rows.in_bulk([each.quote_id for each in off]) if off else {}
    return [(quotes[each.quote_id], each) for each in off if each.quote_id in quotes]


def shown_tags(tags: Sequence[int]) -> list[TagPrint]:
    """Return tags with what they were printed for (up to one query)."""
    rows = TagPrint.objects.select_related("entry__design", "entry__channel")
    found = rows.defer("entry__basis").in_bulk(tags) if tags else {}
    return [found[key] for key in tags if key in found]
