"""Customers, quotes and their numbers of a workshop file: stored as written, checked to agree."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from catalogue.recipes.models import Colourway, DesignVersion
from maker.calc.strict_json import Fields, WrongJson, anything, shown
from maker.workshop.models import Workshop
from pricing.customer_pages.models import QuoteMessage
from pricing.customers.models import Customer
from pricing.quotes.models import DocumentSeries, Quote, QuoteDrop, QuoteExtra, QuoteLine
from pricing.workshop_file import schema
from pricing.workshop_file.bases import with_ids
from pricing.workshop_file.frozen import check_frozen
from pricing.workshop_file.writing import (
    Registry,
    create,
    design_version,
    read_choices,
    read_columns,
)

Versions = dict[str, dict[int, DesignVersion]]
Colourways = dict[tuple[int, int], dict[str, Colourway]]

_UNSENT = (Quote.State.DRAFT, Quote.State.DISCARDED)
_ANSWERED = (Quote.State.ACCEPTED, Quote.State.DECLINED)


def write_customers(workshop: Workshop, rows: list[Fields]) -> Registry:
    """Store customers."""
    customers = Registry("customer")
    for row in rows:
        values = read_columns(schema.CUSTOMER, row)
        customers.add(values["name"], Customer(workshop=workshop, **values), row, "name")
    create(Customer, customers.rows.values())
    return customers


def write_document_series(workshop: Workshop, rows: list[Fields]) -> dict[tuple[str, int], int]:
    """Store the last number of each series and year; return them."""
    series = Registry("document series")
    for row in rows:
        made = DocumentSeries(workshop=workshop, **read_columns(schema.DOCUMENT_SERIES, row))
        series.add((made.name, made.year), made, row, "year")
    create(DocumentSeries, series.rows.values())
    return {place: made.last for place, made in series.rows.items()}


def write_quotes(
    rows: list[Fields],
    customers: Registry,
    channels: Registry,
    designs: Registry,
    versions: Versions,
    colourways: Colourways,
    numbers: dict[tuple[str, int], int],
    materials: Mapping[str, int],
) -> Registry:
    """Store quotes in their order; what a sent one says is kept as it is, if it agrees with it.

    Returned are those with a key, by it.
    """
    keyed = Registry("quote with the key")
    named = Registry("quote")
    quotes, lines, said = [], [], []
    extras: list[QuoteExtra] = []
    drops: list[QuoteDrop] = []
    for row in rows:
        key = row.optional_text("key")
        quote = Quote(
            customer=customers.of(row, "customer"),
            channel=channels.optional(row, "channel"),
            replaces=keyed.optional(row, "replaces"),
            frozen=row.take("frozen", anything, {}),
            **read_columns(schema.QUOTE, row, "lines", "messages", "extras", "drops"),
        )
        own = [
            quote_line(quote, inner, row, designs=designs, versions=versions, colourways=colourways)
            for inner in row.rows("lines")
        ]
        _verify_revision(quote, row)
        if quote.state in _UNSENT:
            _verify_unsent(quote, row)
        else:
            _verify_sent(quote, own, row)
            _read_basis(quote, row, materials)
            _verify_number(quote, row, numbers)
        _verify_answer(quote, row)
        if quote.number:
            named.add((quote.number, quote.revision), quote, row, "number")
        if key is not None:
            keyed.add(key, quote, row, "key")
        if quote.state in _UNSENT and row.rows("messages"):
            raise row.refuse("Nobody answers a quote that was not sent.", "messages")
        said += [
            QuoteMessage(quote=quote, **read_columns(schema.QUOTE_MESSAGE, inner))
            for inner in row.rows("messages")
        ]
        extras += [QuoteExtra(quote=quote, **_extra_columns(inner)) for inner in row.rows("extras")]
        drops += [
            QuoteDrop(quote=quote, **read_columns(schema.QUOTE_DROP, inner))
            for inner in row.rows("drops")
        ]
        quotes.append(quote)
        lines += own
    _verify_replaced(quotes, rows)
    create(Quote, quotes, also=("replaces",))
    create(QuoteLine, lines)
    create(QuoteMessage, said)
    create(QuoteExtra, extras)
    create(QuoteDrop, drops)
    return keyed


def quote_line(
    quote: Quote,
    row: Fields,
    parent: Fields,
    *,
    designs: Registry,
    versions: Versions,
    colourways: Colourways,
    also: tuple[str, ...] = (),
) -> QuoteLine:
    """Return a line of a quote or of a change of its order; what is `also` there is left alone."""
    version = design_version(row, designs, versions)
    ways = colourways[version.design_id, version.number]
    colourway = row.optional_text("colourway")
    if colourway is not None and colourway not in ways:
        raise row.refuse(f"The version has no colourway {shown(colourway)}.", "colourway")
    line = QuoteLine(
        quote=quote,
        design=version.design,
        version=version,
        colourway=None if colourway is None else ways[colourway],
        choices=read_choices(row),
        **read_columns(schema.QUOTE_LINE, row, *also),
    )
    if line.is_removed and quote.state not in _UNSENT:
        raise row.refuse("A quote that was sent has no line taken off.", "is_removed")
    return line


def _extra_columns(row: Fields) -> dict[str, Any]:
    values = read_columns(schema.QUOTE_EXTRA, row)
    if (values.get("amount") is None) == (values.get("share") is None):
        raise row.refuse("A discount or charge is an amount or a share.", "amount")
    return values


def _verify_revision(quote: Quote, row: Fields) -> None:
    before = quote.replaces
    if before is None:
        if quote.revision != 1:
            raise row.refuse("A later revision says which quote it replaces.", "replaces")
        return
    if quote.revision != before.revision + 1:
        raise row.refuse(f"The quote before it is revision {before.revision}.", "revision")
    if quote.customer is not before.customer or quote.number != before.number:
        raise row.refuse("A revision has the customer and number of the one before.", "replaces")
    if before.state in _UNSENT:
        raise row.refuse("Only a quote that was sent has revisions.", "replaces")


def _verify_unsent(quote: Quote, row: Fields) -> None:
    if quote.sent_on or quote.frozen != {} or quote.total is not None:
        raise row.refuse("A draft has no date sent and no figures.", "state")
    if quote.number and quote.replaces is None:
        raise row.refuse("A draft gets its number when it is sent.", "number")


def _verify_sent(quote: Quote, lines: list[QuoteLine], row: Fields) -> None:
    """Check that what was frozen is whole and speaks of these lines; give each its own part."""
    if not quote.number:
        raise row.refuse("A quote that was sent has a number.", "number")
    if quote.sent_on is None:
        raise row.refuse("A quote that was sent says when.", "sent_on")
    path = row.at("frozen")
    check_frozen(quote.frozen, path)
    frozen: Any = quote.frozen
    if (frozen["number"], frozen["revision"]) != (quote.number, quote.revision):
        raise row.refuse("The figures kept are those of another quote.", "frozen")
    public, own = frozen["public"], frozen["own"]
    if quote.total is None or Decimal(public["total"]) != quote.total:
        raise row.refuse(f"The total kept is {public['total']}.", "total")
    ordered = sorted(lines, key=lambda line: line.position)
    said = [line.quantity for line in ordered]
    if not said or said != [line["quantity"] for line in public["lines"]]:
        raise row.refuse("The lines are not those the figures were kept for.", "lines")
    if len(own["lines"]) != len(said):
        raise row.refuse("There are figures for more or fewer lines.", "frozen")
    for line, shown_line, figures in zip(ordered, public["lines"], own["lines"], strict=True):
        line.frozen = {key: shown_line[key] for key in ("price_each", "amount")} | figures


def _read_basis(quote: Quote, row: Fields, materials: Mapping[str, int]) -> None:
    """Give materials the lines were worked out from the ids they have here.

    Quotes sent before that was kept have no lines in their basis.
    """
    basis: Any = quote.frozen["basis"]
    if not isinstance(basis, dict) or "lines" not in basis:
        return
    path = f"{row.at('frozen')}.basis.lines"
    lines, said = basis["lines"], len(quote.frozen["public"]["lines"])
    if not isinstance(lines, list) or len(lines) != said:
        raise WrongJson("There is one for each line, in their order.", where=path)
    channel_id = quote.channel.pk if quote.channel else None
    read = [
        with_ids(line, f"{path}[{place}]", materials, channel_id)
        for place, line in enumerate(lines)
    ]
    # the file's own values stay as they are: it may be read again
    quote.frozen = {**quote.frozen, "basis": {**basis, "lines": read}}


def _verify_number(quote: Quote, row: Fields, numbers: dict[tuple[str, int], int]) -> None:
    """Check that a number given will not be given again."""
    year, _, counted = quote.number.rpartition("-")
    year = year[-4:]
    if not (year.isascii() and year.isdigit() and counted.isascii() and counted.isdigit()):
        return  # from a workshop that counted another way
    if int(counted[:9]) > numbers.get(("quote", int(year)), 0):
        raise row.refuse(
            f"The series of {year} in document_series has not come to {shown(quote.number)}.",
            "number",
        )


def _verify_answer(quote: Quote, row: Fields) -> None:
    if (quote.state in _ANSWERED) != (quote.decided_on is not None):
        raise row.refuse("An accepted or declined quote, and only that, says when.", "decided_on")


def _verify_replaced(quotes: list[Quote], rows: list[Fields]) -> None:
    """Check that a quote is replaced when a revision of it was sent, once, and only then."""
    heirs: dict[int, Quote] = {}
    for quote, row in zip(quotes, rows, strict=True):
        if quote.replaces is not None:
            if id(quote.replaces) in heirs:
                raise row.refuse("That quote has a revision already.", "replaces")
            heirs[id(quote.replaces)] = quote
    for quote, row in zip(quotes, rows, strict=True):
        heir = heirs.get(id(quote))
        is_followed = heir is not None and heir.state not in _UNSENT
        if (quote.state == Quote.State.REPLACED) != is_followed:
            raise row.refuse("A quote is replaced when a revision of it was sent.", "state")
