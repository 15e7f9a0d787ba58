"""Makes the PDFs of a quote: one for the customer and one for herself.

The customer's is made from a copy that holds nothing but what she may see: `customer_view`
names each value it takes, so that a figure of the maker's own cannot slip into the file.
"""

import base64
import datetime
import unicodedata
from collections.abc import Callable, Iterable, Mapping
from decimal import Decimal
from typing import Any

from babel.dates import format_date
from django.template.loader import render_to_string

from maker.calc.money import format_money
from maker.calc.units import format_number, format_percent
from maker.documents.pdf import FONT_FAMILY, render_pdf
from maker.documents.print_style import paper_of
from pricing.calc.papers.choices import tells_something
from pricing.quotes.dates import promise_of
from pricing.quotes.documents import CANCEL_STAGES, cautions_of, deposit_share_said, extras_said

# more names than this are told on a page of their own
NAMES_IN_A_LINE = 12
# names of one list in the PDF: lines of a long one are laid out far quicker in parts
_NAMES_AT_ONCE = 60
# letters of cautions and terms that are kept on one page with what a quote rests on
_SHORT_CLOSING = 1500

Values = dict[str, Any]


def customer_pdf(document: Mapping[str, Any]) -> bytes:
    """Return the quote as her customer gets it: no cost, wage, floor or margin anywhere in it.

    `document` is what `quotes.documents.quote_document` gives. Refusal: PdfLibraryMissing.
    """
    view = customer_view(document)
    html = render_to_string("print/quote.html", view)
    return render_pdf(html=html, css=document_css(view))


def own_pdf(document: Mapping[str, Any]) -> bytes:
    """Return the same quote for herself, with cost, floor, margin, minutes and hour earned.

    Refusal: PdfLibraryMissing.
    """
    view = customer_view(document)
    view["mark"] = "Internal copy – do not send" + (f" · {view['mark']}" if view["mark"] else "")
    view["own"] = _own_figures(document)
    own_lines = _cleaned(document["own"].get("lines", []))
    for line, own in zip(view["lines"], own_lines, strict=False):
        line["own"] = _own_line(own, document)
    html = render_to_string("print/quote_own.html", view)
    return render_pdf(html=html, css=document_css(view))


def customer_view(document: Mapping[str, Any]) -> Values:
    """Return all a customer sees, ready to be shown: nothing for the maker alone."""
    said = _cleaned(
        {
            key: document.get(key)
            for key in (
                "customer", "maker", "currency", "locale", "unit", "tax_name", "tax_rate",
                "tax_registered", "prices_include_tax", "tax_per_line", "deposit_share", "public",
                "number", "revision", "state", "replaced_by", "title", "quoted_on",
                "valid_until", "needed_on", "intro", "terms", "is_past", "cancel",
            )
        }
    )  # fmt: skip
    locale, public = said["locale"], said["public"]
    money = _money_writer(said)
    name = "Quote" + (f" {said['number']}" if said["number"] else "")
    if int(said["revision"] or 1) > 1:
        name += f", revision {said['revision']}"
    lines = [
        _line(line, place, money, locale) for place, line in enumerate(public["lines"], start=1)
    ]
    listed = [line for line in lines if line["names_apart"]]
    cautions = [{"about": about, "text": text} for about, text in cautions_of(public)]
    closing = sum(len(text) for said in cautions for text in said.values()) + len(said["terms"])
    tax_name, contact = said["tax_name"] or "tax", said["customer"].get("contact") or ""
    quoted_on, valid_until, needed_on = (
        _day(said[key], locale) for key in ("quoted_on", "valid_until", "needed_on")
    )
    return {
        "language": locale.replace("_", "-") if locale.startswith("en") else "en",
        "paper": paper_of(locale),
        "name": name,
        "mark": _mark(said, valid_until),
        "facts": [
            ("Quote no.", said["number"]),
            ("Revision", said["revision"] if said["number"] and said["revision"] != 1 else ""),
            ("Date", quoted_on),
            ("Valid until", valid_until),
            ("Date needed", needed_on),
        ],
        "title": said["title"],
        "maker": {**said["maker"], "address": _text_lines(said["maker"].get("address"))},
        "customer": {
            **said["customer"],
            "contact": contact if contact != said["customer"]["name"] else "",
            "address": _text_lines(said["customer"].get("address")),
        },
        "quoted_on": quoted_on,
        "valid_until": valid_until,
        "needed_on": needed_on,
        "intro": _text_lines(said["intro"]),
        "terms": _text_lines(said["terms"]),
        "lines": lines,
        "lists_of_names": listed,
        # a few follow where they fit; many begin a page
        "names_apart": sum(len(part) for line in listed for part in line["name_parts"])
        > _NAMES_AT_ONCE,
        "totals": _totals(said, public, money, locale),
        "deposit": _deposit(said, public, money, valid_until, needed_on),
        "cautions": cautions,
        "closing_is_short": closing <= _SHORT_CLOSING,
        "promise": promise_of(said),
        "yes_by": _day((public.get("dates") or {}).get("yes_by"), locale),
        "earliest_on": _day((public.get("dates") or {}).get("earliest_on"), locale),
        "is_rush": bool(public.get("rush")),
        "cancelling": cancelling_text(said["cancel"], locale),
        "tax_note": _tax_note(said, tax_name),
        # common practice, no source: what hand-cut paper keeps to
        "tolerance": "1/8 in" if said["unit"] == "in" else "3 mm",
        "widths": _column_widths(lines, public, money),
    }


def _cleaned(value: Any) -> Any:
    """Return a copy without the characters a PDF's text and metadata cannot hold."""
    if isinstance(value, Mapping):
        return {key: _cleaned(part) for key, part in value.items()}
    if isinstance(value, list | tuple):
        return [_cleaned(part) for part in value]
    if isinstance(value, str):
        return "".join(
            letter
            for letter in value
            if letter == "\n" or unicodedata.category(letter) not in ("Cc", "Cs")
        )
    return value


def _text_lines(text: str | None) -> list[str]:
    return [line.strip() for line in (text or "").split("\n") if line.strip()]


def _money_writer(said: Mapping[str, Any]) -> Callable[[Any], str]:
    currency, locale = said["currency"], said["locale"]

    def money(amount: Any) -> str:
        if amount is None or amount == "":
            return "–"
        return format_money(Decimal(str(amount)), currency, locale)

    return money


def _day(day: Any, locale: str) -> str:
    """Write a day in the words of the document, which are English."""
    if not day:
        return ""
    if not isinstance(day, datetime.date):
        day = datetime.date.fromisoformat(str(day))
    return format_date(day, "long", locale=locale if locale.startswith("en") else "en_GB")


def _percent(share: Any, locale: str) -> str:
    return format_percent(Decimal(str(share)), locale, 2)


def _is_something(amount: Any) -> bool:
    return amount not in (None, "") and Decimal(str(amount)) != 0


def _mark(said: Mapping[str, Any], valid_until: str) -> str:
    """Return what each page of a quote that is not the current one says in its margin."""
    if said["state"] == "replaced":
        newer = said["replaced_by"] or int(said["revision"] or 1) + 1
        return f"No longer valid: replaced by revision {newer}"
    return {
        "draft": "DRAFT: not sent, not binding",
        "discarded": "DRAFT: deleted",
        "expired": f"Expired: was valid until {valid_until}",
        "declined": "Declined",
        "accepted": "Accepted",
    }.get(said["state"], "")


def _line(line: Mapping[str, Any], place: int, money: Callable[[Any], str], locale: str) -> Values:
    names = [str(name) for name in line.get("names") or [] if str(name).strip()]
    apart = len(names) > NAMES_IN_A_LINE
    drawing = line.get("drawing") or ""
    return {
        "place": place,
        "design": line["design"],
        "code": line.get("code") or "",
        "description": _text_lines(line.get("description")),
        "details": [
            *([str(line["finished_size"])] if line.get("finished_size") else []),
            *filter(tells_something, [f"Colour: {line.get('colourway') or ''}"]),
            *filter(tells_something, line.get("choices") or []),
        ],
        "drawing": "data:image/svg+xml;base64," + base64.b64encode(drawing.encode()).decode()
        if drawing
        else "",
        "names_count": format_number(Decimal(len(names)), locale) if names else "",
        "names_here": [] if apart else names,
        "names_apart": apart,
        "name_parts": [
            list(enumerate(names[start : start + _NAMES_AT_ONCE], start + 1))
            for start in range(0, len(names), _NAMES_AT_ONCE)
        ]
        if apart
        else [],
        "quantity": format_number(Decimal(str(line["quantity"])), locale),
        "price_each": money(line["price_each"]),
        "amount": money(line["amount"]),
        "others": [
            {
                "quantity": format_number(Decimal(str(each["quantity"])), locale),
                **{key: money(each[key]) for key in ("price_each", "amount", "total")},
            }
            for each in line.get("others") or ()
        ],
    }


def _totals(
    said: Mapping[str, Any], public: Mapping[str, Any], money: Callable[[Any], str], locale: str
) -> list[Values]:
    """Return the rows below the last line; tax is said by rate."""
    rows: list[Values] = [
        {"label": label, "amount": money(amount)} for label, amount in extras_said(public, locale)
    ]
    if _is_something(public.get("delivery")):
        rows.append({"label": "Delivery", "amount": money(public["delivery"])})
    taxes = []
    if said["tax_registered"]:
        rates = public.get("rates") or [
            {"rate": said["tax_rate"], "base": public["net"], "tax": public["tax"]}
        ]
        word = said["tax_name"] or "Tax"
        taxes = [
            {
                "label": f"{word} {_percent(rate['rate'], locale)} on {money(rate['base'])}",
                "amount": money(rate["tax"]),
            }
            for rate in rates
        ]
    total = {"label": "Total", "amount": money(public["total"]), "is_total": True}
    if said["prices_include_tax"]:
        included = [{**row, "label": f"Included: {row['label']}", "is_soft": True} for row in taxes]
        return [*rows, total, *included]
    if taxes:
        rows.append({"label": "Net", "amount": money(public["net"])})
    return [*rows, *taxes, total]


def cancelling_text(shares: Mapping[str, Any] | None, locale: str) -> str:
    """Say what is owed for a cancelled order by stage; nothing where the quote has no terms."""
    if not shares:
        return ""
    before, bought, cut = (
        _percent(shares[name], locale) if _is_something(shares[name]) else ""
        for name in CANCEL_STAGES
    )
    stages = (
        ("before materials are bought", before),
        ("after that", bought),
        ("once cutting has begun", cut),
    )
    said = [f"{f'{share} of the price' if share else 'nothing'} {when}" for when, share in stages]
    owed = f"If you cancel, you owe {said[0]}, {said[1]}, and {said[2]}."
    return f"{owed} Items already delivered are paid in full."


def _tax_note(said: Mapping[str, Any], tax_name: str) -> str:
    if not said["tax_registered"]:
        return f"No {tax_name} is charged: not registered for {tax_name}."
    included = "Prices include" if said["prices_include_tax"] else "Prices of lines are before"
    rounded = "; rounded line by line" if said["tax_per_line"] else ""
    return f"{included} {tax_name}{rounded}."


def _deposit(
    said: Mapping[str, Any],
    public: Mapping[str, Any],
    money: Callable[[Any], str],
    valid_until: str,
    needed_on: str,
) -> list[Values]:
    """Return what is paid when; nothing where no deposit is asked."""
    if not _is_something(public.get("deposit")):
        return []
    return [
        {
            "label": f"Deposit{deposit_share_said(said)}, when you accept",
            "day": f"by {valid_until}" if valid_until else "",
            "amount": money(public["deposit"]),
        },
        {
            "label": "Balance, before delivery",
            "day": f"by {needed_on}" if needed_on else "",
            "amount": money(public["balance"]),
        },
    ]


def _column_widths(
    lines: Iterable[Values], public: Mapping[str, Any], money: Callable[[Any], str]
) -> dict[str, int]:
    """Return millimetres for the columns of numbers, wide enough for the longest of each."""
    lines = list(lines)

    def width(texts: Iterable[str], least: int) -> int:
        # a digit of 10 pt is about 1.8 mm wide; 4 mm are beside it
        return max(least, 4 + max((len(text) for text in texts), default=0) * 19 // 10)

    return {
        "quantity": width((line["quantity"] for line in lines), 19),
        "each": width((line["price_each"] for line in lines), 24),
        "amount": width([*(line["amount"] for line in lines), money(public["total"]) + "  "], 27),
    }


def _own_figures(document: Mapping[str, Any]) -> list[Values]:
    """Return what the whole quote leaves her."""
    own, locale = _cleaned(document["own"]), document["locale"]
    money = _money_writer(document)
    rows = [
        ("Cost", money(own.get("cost")), "with your wage and overhead"),
        ("Lowest price", money(own.get("floor")), "below this you work for less than your wage"),
        ("Total, net", money(document["public"].get("net")), ""),
        ("Fees", money(own.get("fees")), ""),
        ("Profit", money(own.get("profit")), ""),
        ("Margin", _share_or_dash(own.get("margin"), locale), "of the price before tax"),
        ("You earn per hour", money(own.get("per_hour")), "wage and profit"),
        ("Time", _minutes(own.get("minutes"), locale), ""),
    ]
    dates = own.get("dates") or {}
    if dates.get("earliest_on"):
        note = f"with the customer if accepted on {_day(document['quoted_on'], locale)}"
        rows.append(("Earliest date", _day(dates["earliest_on"], locale), note))
    if document["needed_on"] and dates:
        last = _day(dates["yes_by"], locale) or "too late"
        rows.append(("Last date to accept", last, dates["why"]))
    return [{"label": label, "value": value, "note": note} for label, value, note in rows]


def _own_line(own: Mapping[str, Any], document: Mapping[str, Any]) -> list[Values]:
    money, locale = _money_writer(document), document["locale"]
    return [
        {"label": label, "value": value}
        for label, value in (
            ("Cost", money(own.get("cost"))),
            ("Lowest price each", money(own.get("floor_each"))),
            ("Suggested price each", money(own.get("target_each"))),
            ("Margin", _share_or_dash(own.get("margin"), locale)),
            ("You earn per hour", money(own.get("per_hour"))),
            ("Time", _minutes(own.get("minutes"), locale)),
        )
    ]


def _share_or_dash(share: Any, locale: str) -> str:
    return "–" if share in (None, "") else _percent(share, locale)


def _minutes(minutes: Any, locale: str) -> str:
    if minutes in (None, ""):
        return "–"
    return format_number(round(Decimal(str(minutes)), 1), locale) + " min"


def document_css(view: Values) -> str:
    """Return the style of a paper for a customer: one ink, one accent; what folds is dashed.

    `view` has `paper`, `mark` and `widths` of the columns of numbers.
    """
    ink, soft, accent, edge, alarm = "#1f2747", "#4c5370", "#0b6b5d", "#857a66", "#a11d33"
    mark = accent if view["mark"] == "Accepted" else alarm
    quiet = f"font-size: 8.5pt; color: {soft}; vertical-align: top; padding-top: 4mm"
    widths = view["widths"]
    return f"""
@page {{
  size: {view["paper"]}; margin: 18mm 18mm 15mm;
  @top-left {{ content: string(quote); {quiet}; vertical-align: bottom; padding: 0 0 4mm;
    width: 35% }}
  @top-right {{ content: string(mark); color: {mark}; font-size: 9.5pt; font-weight: 700;
    vertical-align: bottom; padding-bottom: 4mm; width: 65% }}
  @bottom-left {{ content: string(quote); {quiet}; width: 75% }}
  @bottom-right {{ content: "Page " counter(page) " of " counter(pages); {quiet}; width: 25% }}
}}
@page :first {{ margin-top: 13mm; @top-left {{ content: none }} }}
html {{ font-family: {FONT_FAMILY}; font-size: 10pt; line-height: 1.38; color: {ink};
  overflow-wrap: anywhere }}
body, h1, h2, p, ol, dl, dd, table {{ margin: 0; padding: 0 }}
body {{ string-set: quote attr(data-quote), mark attr(data-mark) }}
.letterhead {{ display: flex; justify-content: space-between; padding-bottom: 3mm;
  border-bottom: 0.35mm dashed {edge}; margin-bottom: 4mm }}
.shop {{ width: 58%; font-size: 19pt; line-height: 1.15; font-weight: 700 }}
.contact {{ width: 38%; font-size: 8.5pt; text-align: right; color: {soft} }}
.parties {{ display: flex; justify-content: space-between; margin-bottom: 6mm }}
.customer {{ width: 52% }}
.customer .who {{ font-weight: 700 }}
.label {{ color: {soft}; font-size: 8.5pt }}
.facts {{ width: 40% }}
.facts div {{ display: flex; justify-content: space-between; padding: 0.5mm 0;
  border-bottom: 0.15mm solid #d8cdb6 }}
.facts dt {{ color: {soft}; width: 38% }}
.facts dd {{ width: 60%; text-align: right }}
h1 {{ font-size: 17pt; line-height: 1.2; color: {accent} }}
h2 {{ font-size: 12pt; line-height: 1.25; margin: 8mm 0 2mm; break-after: avoid }}
h3 {{ font-size: 10pt; margin: 4mm 0 1.5mm; break-after: avoid }}
.subject {{ font-size: 12.5pt; font-weight: 700 }}
.intro {{ margin-top: 2mm }}
.intro p, .terms p {{ margin-top: 1.5mm; orphans: 2; widows: 2 }}
.terms, .conditions {{ font-size: 9pt }}
.closing h2 {{ font-size: 10.5pt; margin: 3.5mm 0 0.6mm }}
.closing .conditions p, .closing .terms p {{ margin-top: 0.5mm }}
/* what is short stays together, so that no last page holds a line or two */
.closing.whole {{ break-inside: avoid }}
.quoted {{ width: 100%; border-collapse: collapse; table-layout: fixed; margin-top: 5mm }}
.quoted th {{ text-align: left; font-weight: 700; font-size: 8.5pt; color: {soft};
  border-bottom: 0.5mm solid {ink}; padding: 0 0 1.2mm; vertical-align: bottom }}
.quoted .number {{ text-align: right; padding-left: 2mm }}
.quoted td.number {{ white-space: nowrap; overflow-wrap: normal }}
.quantity {{ width: {widths["quantity"]}mm }}
.each {{ width: {widths["each"]}mm }}
.amount {{ width: {widths["amount"]}mm }}
.quoted td {{ vertical-align: top; padding: 2mm 0 }}
.quoted .line > td {{ border-top: 0.25mm dashed {edge} }}
.quoted tbody:first-of-type .line > td {{ border-top: 0 }}
.quoted tbody, .quoted tr {{ break-inside: avoid }}
.what {{ position: relative; padding-right: 3mm }}
.what.drawn {{ padding-left: 27mm; min-height: 18.5mm }}
.what img {{ position: absolute; left: 0; top: 0.3mm; width: 23mm; height: 18mm;
  object-fit: contain; object-position: left top }}
.design {{ font-weight: 700; font-size: 10.5pt }}
.code {{ font-weight: 400; color: {soft}; font-size: 8.5pt }}
.detail {{ font-size: 9pt; color: {soft} }}
.cautions p {{ font-size: 9pt; color: {alarm}; margin-top: 1.2mm }}
.quoted td.own {{ font-size: 9pt; padding: 0 0 2.4mm; color: {accent} }}
.quoted .other td {{ padding: 0 0 1.2mm; color: {soft}; font-size: 9pt; text-align: right }}
.quoted .other td:first-child {{ padding-right: 3mm }}
.own span {{ white-space: nowrap }}
.quoted .sum th {{ text-align: right; font-weight: 400; font-size: 10pt; border: 0; color: {ink};
  padding: 1.1mm 0 0 }}
.quoted .sum td {{ padding: 1.1mm 0 0 }}
.quoted .sum.first th, .quoted .sum.first td {{ padding-top: 3mm; border-top: 0.5mm solid {ink} }}
.quoted .sum.total th, .quoted .sum.total td {{ font-weight: 700; font-size: 13pt;
  color: {accent} }}
.quoted .sum.soft th, .quoted .sum.soft td {{ font-size: 9pt; color: {soft} }}
.note {{ text-align: right; font-size: 8.5pt; color: {soft}; break-before: avoid }}
.payments {{ margin-top: 4mm; break-inside: avoid; break-before: avoid;
  border: 0.25mm dashed {edge}; padding: 2mm 3mm }}
.payments p {{ display: flex; justify-content: space-between; padding: 0.5mm 0 }}
.payments .sum-of {{ font-weight: 700; white-space: nowrap; margin-left: 6mm }}
.conditions {{ break-inside: avoid }}
.conditions p {{ margin-top: 1.2mm }}
.figures {{ width: 100%; border-collapse: collapse }}
.figures th, .figures td {{ text-align: left; padding: 1mm 3mm 1mm 0; font-weight: 400;
  border-bottom: 0.15mm solid #d8cdb6 }}
.figures td.number {{ text-align: right; font-weight: 700; white-space: nowrap; width: 42mm }}
.figures td.why {{ color: {soft}; font-size: 9pt }}
.appendix {{ break-inside: avoid }}
.appendix.apart {{ break-before: page; break-inside: auto }}
.appendix.apart h2 {{ margin-top: 0 }}
.appendix ol {{ list-style: none; line-height: 1.5 }}
.appendix li {{ display: inline-block; width: 32%; padding-right: 1%; vertical-align: top }}
.appendix li span {{ color: {soft}; font-size: 8.5pt; display: inline-block; width: 9mm }}
"""
