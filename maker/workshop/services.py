"""Opening a workshop and changing what it counts with."""

import datetime
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from decimal import Decimal
from itertools import count
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone
from django.utils.text import slugify

from maker.accounts.models import Membership, User
from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from maker.workshop.inputs import overhead_per_hour
from maker.workshop.models import CalendarDate, OverheadItem, Workshop

SECOND_CLICK = datetime.timedelta(minutes=1)
SLUG_LENGTH = 50
MOST_OF_ONE_NAME = 1000
# Where amounts of money are stored. The rows belong to apps that build on this one, so they
# are named as text. Wage and overhead are left out: they stand on the pages where they change.
AMOUNTS: tuple[dict[str, Any], ...] = (
    {"purchases__isnull": False},
    {"materials__packs__price__isnull": False},
    {"materials__stock_entries__cost_in__gt": 0},
    {"designs__versions__wears__price__gt": 0},
    {"designs__versions__packings__cost_each__isnull": False},
    {"designs__prices__isnull": False},
    {"channels__listing_fee__gt": 0},
    {"channels__tiers__fixed_fee__gt": 0},
    {"materials__fetches_each__isnull": False},
    {"suppliers__carriage__gt": 0},
    {"suppliers__carriage_free_from__isnull": False},
    {"expenses__isnull": False},
    {"budgets__isnull": False},
    {"finished_items__batches__isnull": False},
    {"customers__enquiries__budget_each__isnull": False},
    {"customers__quotes__total__isnull": False},
    {"customers__quotes__delivery__gt": 0},
    {"customers__quotes__distance_cost__isnull": False},
    {"customers__quotes__lines__price_asked__isnull": False},
    {"customers__quotes__extras__amount__isnull": False},
    {"customers__quotes__drops__carrier__gt": 0},
    {"fairs__designs__isnull": False},
    {"fairs__costs__isnull": False},
    {"fairs__coins__isnull": False},
    {"fairs__rate_per_distance__gt": 0},
    {"fairs__orders_gain__gt": 0},
    {"fairs__days__card_statement__isnull": False},
    {"fairs__days__card_fees_charged__isnull": False},
)


# What apps above this one keep worked out from a setting, by the setting's name: what brings it
# up to date is added by the app when it starts, and called as `follow(workshop=...)`.
WHEN_CHANGED: dict[str, list[Callable[..., object]]] = {}


class CurrencyInUse(Refusal):
    """Amounts were entered in the currency, and amounts are not converted."""


class NameTaken(Refusal):
    """Another row of the kind has this name in the workshop."""


def claim_name(row: Any, taken: str) -> None:
    """Raise NameTaken with the words `taken` if another row of its kind has the row's name.

    However it is capitalised. Call it first in the transaction of the save: those who write into
    one workshop wait here for each other, so that two new rows cannot both find a name free.
    """
    Workshop.objects.select_for_update(no_key=True).get(pk=row.workshop_id)
    same = type(row)._default_manager.filter(workshop=row.workshop_id, name__iexact=row.name)
    if same.exclude(pk=row.pk).exists():
        raise NameTaken(taken, where="name")


@dataclass(frozen=True, slots=True)
class OverheadEntry:
    """One row of overhead as it was entered."""

    name: str
    amount: Decimal
    period: str


@dataclass(frozen=True, slots=True)
class DateEntry:
    """One row of dates that differ as it was entered; `minutes` for other hours only."""

    kind: str
    first_on: datetime.date
    last_on: datetime.date
    minutes: int | None
    note: str


@transaction.atomic
def open_workshop(
    *,
    owner: User,
    name: str,
    currency: str,
    unit: str,
    wage_per_hour: Decimal,
    locale: str = "en_GB",
) -> Workshop:
    """Create a workshop with its owner, at an address made from its name.

    The same name from the same person within a minute is the second click of one wish, and
    gets the workshop of the first.
    """
    # Locked, so that the second click waits for the first.
    User.objects.select_for_update().get(pk=owner.pk)
    moments_ago = timezone.now() - SECOND_CLICK
    mine = Workshop.objects.filter(memberships__user=owner, memberships__role="owner")
    just_opened = mine.filter(name=name, created_at__gte=moments_ago).order_by("-pk").first()
    if just_opened:
        return just_opened
    workshop = _create_at_free_address(
        Workshop(
            name=name, currency=currency, unit=unit, wage_per_hour=wage_per_hour, locale=locale
        )
    )
    Membership.objects.create(user=owner, workshop=workshop, role=Membership.Role.OWNER)
    return workshop


def _create_at_free_address(workshop: Workshop) -> Workshop:
    """Save the workshop under the first free of `name`, `name-2`, `name-3`."""
    base = slugify(workshop.name)[:SLUG_LENGTH].strip("-_") or "workshop"
    taken = set(Workshop.objects.filter(slug__startswith=base).values_list("slug", flat=True))
    for number in count(1):
        slug = base if number == 1 else f"{base}-{number}"
        if slug in taken:
            continue
        workshop.slug = slug
        try:
            with transaction.atomic():
                workshop.save(force_insert=True)
        except IntegrityError:
            # somebody opened one by this name in the same moment
            if number > MOST_OF_ONE_NAME:
                raise
            continue
        return workshop
    raise AssertionError("counting has no end")


@transaction.atomic
def save_settings(
    *,
    workshop: Workshop,
    fields: Sequence[str],
    edit_number: int | None,
    overhead: Sequence[OverheadEntry] | None = None,
    dates: Sequence[DateEntry] | None = None,
) -> None:
    """Store these fields as the given workshop carries them, and the rows if any.

    Refusals: ChangedMeanwhile, when somebody saved since `edit_number`; CurrencyInUse, when
    amounts exist in the old currency; NoHours, when overhead is left without hours to bear it.
    """
    take_turn(workshop, edit_number)
    if "currency" in fields:
        _make_sure_currency_is_free(workshop)
    stored = Workshop.objects.get(pk=workshop.pk)
    workshop.save(update_fields=fields)
    for name in fields:
        if getattr(stored, name) != getattr(workshop, name):
            for follow in WHEN_CHANGED.get(name, ()):
                follow(workshop=workshop)
    if dates is not None:
        CalendarDate.objects.of(workshop).delete()
        CalendarDate.objects.bulk_create(
            CalendarDate(workshop=workshop, **asdict(entry)) for entry in dates
        )
    if overhead is not None:
        OverheadItem.objects.of(workshop).delete()
        OverheadItem.objects.bulk_create(
            OverheadItem(
                workshop=workshop,
                position=position,
                name=entry.name,
                amount=entry.amount,
                period=entry.period,
            )
            for position, entry in enumerate(overhead)
        )
        overhead_per_hour(workshop, OverheadItem.objects.of(workshop))


def _make_sure_currency_is_free(workshop: Workshop) -> None:
    stored = Workshop.objects.get(pk=workshop.pk)
    if stored.currency == workshop.currency:
        return
    this_one = Workshop.objects.filter(pk=workshop.pk)
    if any(this_one.filter(**stored_amount).exists() for stored_amount in AMOUNTS):
        raise CurrencyInUse(
            f"The currency stays {stored.currency}: you have amounts in it, and they "
            "aren't converted. Add a workshop to use another currency.",
            where="currency",
        )
