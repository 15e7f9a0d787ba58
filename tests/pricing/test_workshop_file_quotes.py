"""Customers and quotes in a workshop file: lossless, and refused where they do not agree."""

import copy
import datetime
from pathlib import Path

import pytest
from django.conf import settings

from catalogue.recipes.models import DesignVersion
from maker.calc.strict_json import WrongJson, parse
from maker.workshop.models import Workshop
from pricing.channels.models import Channel
from pricing.customers.models import Customer
from pricing.quotes.documents import quote_document
from pricing.quotes.models import DocumentSeries, Quote, QuoteLine
from pricing.quotes.sending import accept_quote, decline_quote, revise_quote, send_quote
from pricing.quotes.services import QuoteLineInput, add_line, discard_draft, new_quote, remove_line
from pricing.workshop_file.removing import remove_workshop
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests.pricing.test_workshop_file_older import with_hours_of_a_day

WORKED_CASE = Path(settings.BASE_DIR) / "fixtures" / "worked_case.json"
DAY = datetime.date(2026, 4, 2)
NOTHING = object()

pytestmark = pytest.mark.django_db


@pytest.fixture
def quoted(owner):
    """The worked case with quotes in every state; revisions one and two of the first."""
    workshop = import_workshop(parse(WORKED_CASE.read_bytes()))
    version = DesignVersion.objects.of(workshop).get()
    channel = Channel.objects.of(workshop).get()
    customer = Customer.objects.create(
        workshop=workshop, name="Orla “Ó” Bray 🎁", address="3 Mill Lane\nשלום", notes="a\n\tb"
    )
    Customer.objects.create(workshop=workshop, name="Archived", retired_on=DAY)

    def draft(title, **line):
        quote = new_quote(
            workshop=workshop, customer=customer, today=DAY, title=title, channel=channel
        )
        add_line(
            quote=quote,
            line=QuoteLineInput(
                version=version,
                quantity=60,
                colourway=version.colourways.first(),
                description="For the fair",
                names="Ida\nBo",
                **line,
            ),
            edit_number=quote.edit_number,
        )
        return quote

    def send(quote):
        return send_quote(quote=Quote.objects.with_people().get(pk=quote.pk), by=owner, today=DAY)

    first = send(draft("Revised"))
    revision = revise_quote(quote=first, today=DAY)
    send(revision)
    accept_quote(quote=send(draft("Accepted")), who="Orla", on=DAY, today=DAY)
    declined = send(draft("Declined"))
    decline_quote(quote=declined, reason="price", note="too dear", on=DAY, today=DAY)
    send(draft("Waiting"))
    revise_quote(quote=declined, today=DAY)
    discard_draft(quote=draft("Deleted drafts"))
    left = draft("Draft")
    left.refresh_from_db()
    spare = QuoteLineInput(version=version, quantity=1)
    add_line(quote=left, line=spare, edit_number=left.edit_number)
    remove_line(row=left.lines.last())
    return workshop


def exported(workshop):
    return export_workshop(Workshop.objects.get(pk=workshop.pk))


def test_quotes_in_every_state_come_back_byte_by_byte(quoted):
    document = exported(quoted)
    assert {row["state"] for row in document["quotes"]} == set(Quote.State.values)
    again = import_workshop(parse(document_text(document).encode()), name="Another")
    document["workshop"]["name"] = "Another"
    assert document_text(exported(again)) == document_text(document)


def test_a_quote_says_the_same_after_the_way_through_a_file(quoted):
    again = import_workshop(exported(quoted), name="Another")
    for before, after in zip(
        Quote.objects.of(quoted).with_people().order_by("pk"),
        Quote.objects.of(again).with_people().order_by("pk"),
        strict=True,
    ):
        if before.frozen:
            assert quote_document(after, DAY) == quote_document(before, DAY)
            # lines are worked out from materials, which have other ids here
            assert _said(after.frozen) == _said(before.frozen)
        for old, new in zip(before.lines.all(), after.lines.all(), strict=True):
            assert new.frozen == old.frozen
            assert (new.names, new.colourway_name) == (old.names, old.colourway_name)
    assert DocumentSeries.objects.get(workshop=again).last == 4


def _said(frozen):
    basis = {key: value for key, value in frozen["basis"].items() if key != "lines"}
    return {**frozen, "basis": basis}


def test_the_next_number_goes_on_after_an_import(quoted, owner):
    again = import_workshop(exported(quoted), name="Another")
    draft = Quote.objects.of(again).drafts().filter(title="Draft").with_people().get()
    draft.valid_until = DAY
    draft.save()
    assert send_quote(quote=draft, by=owner, today=DAY).number == "Q-2026-0005"


def test_an_example_with_revisions_is_removed_whole(quoted):
    kept = Quote.objects.count()
    example = import_workshop(exported(quoted), is_demo=True)
    assert Quote.objects.count() == 2 * kept
    remove_workshop(workshop=example)
    assert Quote.objects.count() == kept
    assert QuoteLine.objects.of(quoted).count() == QuoteLine.objects.count()


VERSION_2 = ("budgets", "customers", "document_series", "quotes")
VERSION_3 = ("cutting_plans", "offcuts", "timed_runs", "tag_prints", "price_decisions")


def test_a_file_of_version_1_still_comes_in(db):
    document = with_hours_of_a_day(parse(WORKED_CASE.read_bytes()))
    for key in (*VERSION_2, *VERSION_3):
        del document[key]
    for key in ("quote_prefix", "quote_valid_days", "quantity_steps"):
        del document["workshop"][key]
    workshop = import_workshop({**document, "version": 1})
    assert workshop.quote_prefix == "Q"
    assert document_text(exported(workshop)) == WORKED_CASE.read_text()


def test_a_file_of_version_2_still_comes_in(db):
    document = with_hours_of_a_day(parse(WORKED_CASE.read_bytes()))
    for key in VERSION_3:
        del document[key]
    for key in ("offcut_value", "offcut_least_mm"):
        del document["workshop"][key]
    workshop = import_workshop({**document, "version": 2})
    assert document_text(exported(workshop)) == WORKED_CASE.read_text()


@pytest.mark.parametrize(
    ("version", "key"), [*((1, key) for key in VERSION_2), *((2, key) for key in VERSION_3)]
)
def test_a_file_of_an_older_version_has_no_lists_of_a_newer_one(version, key):
    document = with_hours_of_a_day(parse(WORKED_CASE.read_bytes())) | {"version": version}
    newer = {*VERSION_3, *(VERSION_2 if version == 1 else ())}
    for other in newer - {key}:
        del document[other]
    with pytest.raises(WrongJson) as refused:
        import_workshop(document)
    assert refused.value.where == key


# quotes: 0 replaced, 1 its revision, 2 accepted, 3 declined, 4 waiting, 5 a draft after 3,
# 6 thrown away, 7 a draft
PUBLIC = ("quotes", 0, "frozen", "public")
WRONG = {
    "a customer twice": (("customers", 1, "name"), "Orla “Ó” Bray 🎁", "customers[1].name"),
    "an address that is none": (("customers", 0, "email"), "here", "customers[0].email"),
    "a quote of nobody": (("quotes", 0, "customer"), "Nobody", "quotes[0].customer"),
    "no such channel": (("quotes", 0, "channel"), "Moon", "quotes[0].channel"),
    "no such state": (("quotes", 0, "state"), "lost", "quotes[0].state"),
    "no such reason": (("quotes", 3, "reason"), "mood", "quotes[3].reason"),
    "replaced by nothing": (("quotes", 4, "state"), "replaced", "quotes[4].state"),
    "replaced, and yet waiting": (("quotes", 0, "state"), "sent", "quotes[0].state"),
    "a revision of none": (("quotes", 1, "replaces"), None, "quotes[1].replaces"),
    "a revision of a later one": (("quotes", 1, "replaces"), "quote 2", "quotes[1].replaces"),
    "a revision left out": (("quotes", 1, "revision"), 3, "quotes[1].revision"),
    "two revisions of one": (("quotes", 5, "replaces"), "quote 1", "quotes[5].replaces"),
    "sent without a day": (("quotes", 4, "sent_on"), None, "quotes[4].sent_on"),
    "sent without a number": (("quotes", 4, "number"), "", "quotes[4].number"),
    "sent without figures": (("quotes", 4, "frozen"), NOTHING, "quotes[4].frozen.number"),
    "a number given twice": (("quotes", 7, "number"), "Q-2026-0001", "quotes[7].number"),
    "a number to be given again": (("document_series", 0, "last"), 3, "quotes[4].number"),
    "a series twice": (
        ("document_series", 1), {"name": "quote", "year": 2026, "last": 9},
        "document_series[1].year",
    ),
    "accepted on no day": (("quotes", 2, "decided_on"), None, "quotes[2].decided_on"),
    "waiting, and yet decided": (
        ("quotes", 4, "decided_on"), "2026-04-02", "quotes[4].decided_on",
    ),
    "a draft with figures": (("quotes", 7, "total"), "1", "quotes[7].state"),
    "a draft with null figures": (("quotes", 7, "frozen"), None, "quotes[7].state"),
    "another total": (("quotes", 4, "total"), "1", "quotes[4].total"),
    "another quote's figures": (
        ("quotes", 4, "frozen", "number"), "Q-2026-0001", "quotes[4].frozen",
    ),
    "another quantity": (("quotes", 4, "lines", 0, "quantity"), 61, "quotes[4].lines"),
    "no pieces": (("quotes", 7, "lines", 0, "quantity"), 0, "quotes[7].lines[0].quantity"),
    "no lines": (("quotes", 4, "lines"), [], "quotes[4].lines"),
    "a line taken off what was sent": (
        ("quotes", 4, "lines", 0, "is_removed"), True, "quotes[4].lines[0].is_removed",
    ),
    "no such version": (("quotes", 4, "lines", 0, "version"), 9, "quotes[4].lines[0].version"),
    "no such colourway": (
        ("quotes", 4, "lines", 0, "colourway"), "Moon", "quotes[4].lines[0].colourway",
    ),
    "a frozen amount that is a number": ((*PUBLIC, "net"), 12, "quotes[0].frozen.public.net"),
    "a frozen amount that is none": ((*PUBLIC, "net"), "1e5", "quotes[0].frozen.public.net"),
    "a frozen key left out": ((*PUBLIC, "tax"), NOTHING, "quotes[0].frozen.public.tax"),
    "a frozen key too many": ((*PUBLIC, "margin"), "0.3", "quotes[0].frozen.public.margin"),
    "a frozen day that is none": (
        ("quotes", 0, "frozen", "quoted_on"), "soon", "quotes[0].frozen.quoted_on",
    ),
    "a frozen currency that is none": (
        ("quotes", 0, "frozen", "currency"), "XQZ", "quotes[0].frozen.currency",
    ),
    "a fraction that is no text": (
        ("quotes", 0, "frozen", "basis"), {"a": [1.5]}, "quotes[0].frozen.basis.a[0]",
    ),
}  # fmt: skip
DRAWINGS = [
    "<svg",
    '<svg xmlns="http://www.w3.org/2000/svg" onload="x()"/>',
    '<svg xmlns="http://www.w3.org/2000/svg"><script>x()</script></svg>',
    '<svg xmlns="http://www.w3.org/2000/svg"><image href="file:///etc/hosts"/></svg>',
    '<svg xmlns="http://www.w3.org/2000/svg"><rect fill="url(http://a.example)"/></svg>',
    '<!DOCTYPE a [<!ENTITY b "c">]><svg xmlns="http://www.w3.org/2000/svg"/>',
    "<p>Not drawn</p>",
    '<svg xmlns="http://www.w3.org/2000/svg"><use href="http://a.example/#b"/></svg>',
    '<svg xmlns="http://www.w3.org/2000/svg"><use href="#a"/><g id="a"><use href="#a"/></g></svg>',
    '<svg xmlns="http://www.w3.org/2000/svg"><defs><g id="a"><use href="#a"/></g></defs></svg>',
    '<svg xmlns="http://www.w3.org/2000/svg"><g clip-path="url(http://a.example)"/></svg>',
]
WRONG |= {
    f"a drawing that is none {place}": (
        (*PUBLIC, "lines", 0, "drawing"), drawing, "quotes[0].frozen.public.lines[0].drawing",
    )
    for place, drawing in enumerate(DRAWINGS)
}  # fmt: skip


def change(document, path, value):
    """Put a value at a path; NOTHING takes the place away."""
    *parents, last = path
    place = document
    for step in parents:
        place = place[step]
    if value is NOTHING:
        del place[last]
    elif isinstance(place, list) and last == len(place):
        place.append(value)
    else:
        place[last] = value


def test_wrong_quotes_are_refused_with_the_place(quoted):
    """One workshop for all of them, because making it takes longer than a refusal."""
    source = exported(quoted)
    import_workshop(source, name="Nothing wrong yet")
    before = Quote.objects.count(), Customer.objects.count(), Workshop.objects.count()
    for name, (path, value, where) in WRONG.items():
        document = copy.deepcopy(source)
        change(document, path, value)
        with pytest.raises(WrongJson) as refused:
            import_workshop(document, name="Another")
        assert refused.value.where == where, name
        assert len(refused.value.message) > 15, name
    assert (Quote.objects.count(), Customer.objects.count(), Workshop.objects.count()) == before
