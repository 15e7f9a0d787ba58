"""The way round a workshop: Home, then five groups of pages, each two taps away."""

from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

from django import template
from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

register = template.Library()

# some forty of a workshop
MOST_ADDRESSES = 4096


@dataclass(frozen=True, slots=True)
class Entry:
    """A page one goes to; `holds` are the beginnings of the names of views that belong to it.

    `needs` is what a membership must allow for it: `may_change`, `may_own`, or nothing.
    """

    label: str
    view: str
    holds: tuple[str, ...] = ()
    needs: str = ""
    has_workshop: bool = True


@dataclass(frozen=True, slots=True)
class Group:
    """Pages that belong together, as one word of the navigation."""

    label: str
    entries: tuple[Entry, ...]


@dataclass(frozen=True, slots=True)
class Link:
    """An entry as one page shows it."""

    label: str
    href: str
    current: str = ""


@dataclass(frozen=True, slots=True)
class Links:
    """A group as one page shows it."""

    label: str
    links: list[Link] = field(default_factory=list)

    @property
    def is_current(self) -> bool:
        """Whether the page shown is one of these."""
        return any(link.current for link in self.links)


HOME = Entry("Home", "pricing:home")
# what is priced, drawn and timed of one design belongs to Designs
_OF_A_DESIGN = (
    "catalogue:design", "catalogue:recipe", "catalogue:version", "pricing:cost",
    "pricing:quantities", "pricing:design_", "pricing:what_if", "pricing:for_customer",
)  # fmt: skip
GROUPS = (
    Group(
        "Make",
        (
            Entry("Designs", "catalogue:design_list", _OF_A_DESIGN),
            Entry("Shapes", "catalogue:shape_list", ("catalogue:shape",)),
            Entry("What can I make?", "pricing:can_make"),
            Entry("Cutting plans", "catalogue:plan_list", ("catalogue:plan",)),
            Entry("Offcuts", "catalogue:offcut_list", ("catalogue:offcut",)),
            Entry("Finished stock", "pricing:finished_list", ("pricing:finished",)),
            Entry("Timer", "pricing:timer", ("pricing:timer",)),
        ),
    ),
    Group(
        "Buy",
        (
            Entry(
                "Materials", "catalogue:material_list", ("catalogue:material", "catalogue:stock")
            ),
            Entry("Stock count", "catalogue:stock_count", ("catalogue:stock_count",), "may_change"),
            Entry("What to buy", "pricing:to_buy", ("pricing:to_buy", "pricing:slow_list")),
            Entry(
                "Receipts",
                "catalogue:purchase_list",
                ("catalogue:purchase", "catalogue:supplier_return"),
            ),
            Entry("Expenses", "catalogue:expense_list", ("catalogue:expense",)),
            Entry("Suppliers", "catalogue:supplier_list", ("catalogue:supplier",)),
            Entry("Spending", "pricing:spending", ("pricing:spending", "pricing:closed_month")),
            Entry(
                "Tax year", "pricing:tax_year_now", ("pricing:tax_year", "pricing:tax_year_both")
            ),
        ),
    ),
    Group(
        "Sell",
        (
            Entry("Enquiries", "pricing:enquiry_list", ("pricing:enquiry",)),
            Entry("Quotes", "pricing:quote_list", ("pricing:quote",)),
            Entry(
                "Orders",
                "pricing:order_list",
                ("pricing:order", "pricing:delivery", "pricing:payment", "pricing:invoice"),
            ),
            Entry("Fairs", "pricing:fair_list", ("pricing:fair",)),
            Entry("Shops", "pricing:shop_list", ("pricing:shop",)),
            Entry("Calendar", "pricing:calendar", ("pricing:calendar",)),
            Entry("Customers", "pricing:customer_list", ("pricing:customer",)),
        ),
    ),
    Group(
        "Prices",
        (
            Entry("Price list", "pricing:price_list", ("pricing:price_",)),
            Entry("Review prices", "pricing:price_review", ("pricing:price_review",)),
            Entry("Tags", "pricing:tag_sheet", ("pricing:tag_",)),
            Entry("Sales channels", "pricing:channel_list", ("pricing:channel",)),
        ),
    ),
    Group(
        "Settings",
        (
            Entry("Name and contact", "maker:workshop_settings", needs="may_own"),
            Entry("Money and units", "maker:workshop_counting", needs="may_own"),
            Entry("Hourly cost", "maker:workshop_hour", needs="may_own"),
            Entry("Tax", "maker:workshop_tax", needs="may_own"),
            Entry("Buying and tax year", "maker:workshop_supplies", needs="may_own"),
            Entry("Prices and deposits", "maker:workshop_prices", needs="may_own"),
            Entry("Hours and dates", "maker:workshop_dates", needs="may_own"),
            Entry("Quotes and terms", "maker:workshop_quotes", needs="may_own"),
            Entry("Bank and invoices", "maker:workshop_invoices", needs="may_own"),
            Entry("People", "maker:people", ("maker:people",), needs="may_own"),
            Entry("Activity", "maker:workshop_activity", needs="may_own"),
            Entry("File and deletion", "pricing:workshop_file", needs="may_own"),
            Entry("Work in progress", "maker:work_list", ("maker:work_", "maker:work")),
            Entry("Your account", "maker:account", has_workshop=False),
        ),
    ),
)


@lru_cache(maxsize=MOST_ADDRESSES)
def _address(view: str, slug: str | None) -> str:
    """Return the address of an entry; it is the same on every page of a workshop."""
    try:
        return reverse(view, args=[] if slug is None else [slug])
    except NoReverseMatch:
        return ""


def _nearest(view: str) -> Entry | None:
    """Return the entry whose name of a view, or beginning of one, fits closest."""
    fits = [
        (len(name), entry)
        for group in GROUPS
        for entry in group.entries
        for name in (entry.view, *entry.holds)
        if view == name or (name in entry.holds and view.startswith(name))
    ]
    return max(fits, key=lambda fit: fit[0])[1] if fits else None


def _link(entry: Entry, request: HttpRequest, slug: str, here: Entry | None) -> Link | None:
    href = _address(entry.view, slug if entry.has_workshop else None)
    if not href:
        return None
    current = "page" if href == request.path else "true" if entry is here else ""
    return Link(entry.label, href, current)


@register.inclusion_tag("components/navigation.html", takes_context=True)
def navigation(context: dict[str, Any]) -> dict[str, Any]:
    """Show Home and the groups; the group and the page one is on are marked."""
    request = context["request"]
    slug, role = request.workshop.slug, request.membership
    match = request.resolver_match
    here = _nearest(match.view_name if match else "")
    groups = []
    for group in GROUPS:
        entries = [one for one in group.entries if not one.needs or getattr(role, one.needs)]
        links = [link for one in entries if (link := _link(one, request, slug, here))]
        if links:
            groups.append(Links(group.label, links))
    return {"home": _link(HOME, request, slug, None), "groups": groups}
