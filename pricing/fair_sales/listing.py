"""The sales of a day as a list: what happened, in words."""

from collections import Counter
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import F, Prefetch, Sum
from django.utils import timezone

from maker.calc.dates import say_date
from maker.web.words import money
from maker.workshop.models import Workshop
from pricing.fair_sales.happened import ABOUT_RIGHT
from pricing.fair_sales.names import name_of
from pricing.fairs.models import FairDay, FairDesign, FairSale, FairSaleLine, FairSaleQuerySet

ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class SaleRow:
    """A sale with its items, its money and where it came from, as text."""

    sale: FairSale
    items: str
    back: str
    money_text: str
    notes: tuple[str, ...]

    @property
    def phone_note(self) -> str:
        """Say what the phone's clock showed, where that was something else."""
        phone_at = self.sale.phone_at
        if phone_at is None or abs(phone_at - self.sale.happened_at) <= ABOUT_RIGHT:
            return ""
        local = timezone.localtime(phone_at)
        return f"phone: {say_date(local.date(), year=False)}, {local:%H:%M}"

    @property
    def counts(self) -> bool:
        """Whether it was not undone."""
        return self.sale.undone_at is None


def item_names(day: FairDay) -> dict[int, str]:
    """Return what the items of a fair are called, by key (four queries)."""
    items = FairDesign.objects.filter(fair=day.fair_id).with_items().in_order()
    return {each.pk: name_of(each) for each in items}


def sales_of(day: FairDay) -> FairSaleQuerySet:
    """Return what happened on a day, latest first, with lines."""
    lines = FairSaleLine.objects.select_related("bundle").order_by("pk")
    return (
        FairSale.objects.filter(day=day, is_awaited=False)
        .prefetch_related(Prefetch("lines", lines))
        .order_by("-happened_at", "-pk")
    )


def money_of(day: FairDay) -> dict[str, Decimal]:
    """Return takings, those in cash and by card, and deposits, which are no takings (one query)."""
    found = dict.fromkeys(("Taken", "Cash", "Card", "Deposits"), ZERO)
    sales = FairSale.objects.filter(day=day).that_count().values("kind", "way")
    for row in sales.annotate(sum=Sum(F("received") * F("payments"))).order_by():
        if row["kind"] == FairSale.Kind.ORDER:
            found["Deposits"] += row["sum"]
        elif row["way"] != FairSale.Way.NONE:
            found["Taken"] += row["sum"]
            found[row["way"].capitalize()] += row["sum"]
    return found


def sale_row(sale: FairSale, names: dict[int, str], workshop: Workshop) -> SaleRow:
    """Return a sale as text."""
    over: Counter[str] = Counter()
    back: Counter[str] = Counter()
    bundles = set()
    for line in sale.lines.all():
        (back if line.came_back else over)[names.get(line.item_id, "an item")] += line.quantity
        if line.bundle:
            bundles.add(line.bundle.name)
    notes = [f"Bundle: {name}" for name in sorted(bundles)]
    if sale.discount:
        notes.append(f"Discount {money(sale.discount, workshop)}: {sale.discount_reason}")
    if sale.note:
        notes.append(sale.note)
    times = f"{sale.payments} × " if sale.payments > 1 else ""
    text = "" if sale.way == FairSale.Way.NONE else f"{times}{money(sale.received, workshop)}"
    return SaleRow(sale, _counted(over), _counted(back), text, tuple(notes))


def _counted(items: Counter[str]) -> str:
    return ", ".join(f"{count} × {name}" if count > 1 else name for name, count in items.items())
