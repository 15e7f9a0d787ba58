"""A tax year to the day, the value of stock at its end, and the accountant's pack."""

import csv
import datetime
import hashlib
import io
import zipfile
from decimal import Decimal
from pathlib import Path

import pytest
import time_machine
from django.test import Client
from django.utils import timezone
from openpyxl import load_workbook

from catalogue.expenses.models import Expense
from catalogue.expenses.services import ExpenseInput, add_expense
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.purchases.services import reverse_purchase
from catalogue.receipt_files.services import add_file, remove_file
from catalogue.stock.services import move_stock
from maker.slow_work.models import Work, WorkPart
from pricing.calc.costing.rates import Ask
from pricing.calc.spending.tax_year import TaxYear, quarters_of, tax_year, tax_year_of
from pricing.closed_months.services import close_through
from pricing.finished_stock.services import item_for, make_batch, start_batch
from pricing.orders.invoicing import issue_invoice
from pricing.orders.services import accept, deliver
from pricing.prices.models import PriceListEntry
from pricing.prices.services import set_price
from pricing.tax_year.inputs import year_of
from pricing.tax_year.tables import year_tables
from tests.catalogue.pages import text_of
from tests.catalogue.receipts import make_receipt
from tests.factories import make_channel, make_material, make_recipe, today
from tests.office import cells_in_office, in_office
from tests.pricing.quotes import make_line, make_quote, sent_quote
from tests.pricing.test_closed_months import enter_the_case
from tests.receipt_papers import pdf, photo
from tests.slow_work import do_what_waits

D = Decimal


def day(year, month, number):
    return datetime.date(year, month, number)


def test_a_year_may_start_on_any_day():
    assert tax_year(2026, 1, 1) == TaxYear(day(2026, 1, 1), day(2026, 12, 31))
    april = tax_year(2026, 4, 6)
    assert (april.first, april.last, april.name) == (day(2026, 4, 6), day(2027, 4, 5), "2026/27")
    assert tax_year_of(day(2026, 4, 5), 4, 6).first == day(2025, 4, 6)
    # a month that has no 31st, and the day a leap year adds
    assert tax_year(2027, 2, 31) == TaxYear(day(2027, 2, 28), day(2028, 2, 28))
    assert [quarter.first for quarter in quarters_of(april)] == [
        day(2026, 4, 6), day(2026, 7, 6), day(2026, 10, 6), day(2027, 1, 6)
    ]  # fmt: skip


@pytest.fixture
def books(workshop):
    """A tax year from 6 April: one receipt on each side of the border, use between."""
    workshop.tax_year_month, workshop.tax_year_day = 4, 6
    workshop.save()
    card = make_material(workshop, name="Card <one>", category="paper")
    make_receipt(workshop, (card, "10", "10.00"), bought_on=day(2025, 4, 5))
    make_receipt(workshop, (card, "10", "20.00"), bought_on=day(2025, 4, 6))
    make_receipt(workshop, (card, "10", "40.00"), bought_on=day(2026, 4, 6))
    used = {"material": card, "kind": "used", "amount": D(4), "today": today()}
    move_stock(**used, moved_on=day(2026, 4, 5), reason="order O-1")
    add_expense(
        workshop=workshop,
        expense=ExpenseInput(what="Van", paid_on=day(2025, 8, 1), category="travel", net=D(50)),
        today=today(),
    )
    return workshop


def test_the_border_is_the_day_not_the_month(client, books):
    page = text_of(client.get("/w/marlow/tax-year/2025/"))
    # 20.00 bought; 4 of 20 at 1.50 used; 10.00 there before: 24.00 left
    for told in ("Tax year 2025/26", "€20.00", "€6.00", "€24.00", "€50.00", "it adds up"):
        assert told in page


@pytest.mark.parametrize(
    ("part", "told"),
    [
        ("suppliers", "Supplier"),
        ("materials", "Card &lt;one&gt;"),
        ("orders", "O-1"),
    ],
)
def test_sums_by_name_are_read_when_they_are_opened(client, books, part, told):
    year, href = "/w/marlow/tax-year/2025/", f"/w/marlow/tax-year/2025/{part}/"
    page = text_of(client.get(year))
    assert f'hx-get="{href}" hx-trigger="toggle once"' in page
    assert f'<a href="{href}">' in page
    for shown in (client.get(href), client.get(href, headers={"HX-Request": "true"})):
        assert told in text_of(shown)
    # the day is the border here too: 20.00 bought, 6.00 used
    assert ("€6.00" if part == "orders" else "€20.00") in text_of(shown)
    assert "<html" not in text_of(shown)
    assert "Nothing in this year." in text_of(client.get(href.replace("2025", "2019")))
    assert client.get(href.replace("2025", "1066")).status_code == 404


def test_the_year_that_runs_is_one_tap_away(client, books):
    year = tax_year_of(today(), 4, 6).first.year
    assert f"Tax year {year}" in text_of(client.get("/w/marlow/tax-year/"))
    assert client.get("/w/marlow/tax-year/1066/").status_code == 404


def test_stock_counts_at_the_lower_of_cost_and_what_it_would_fetch(client, books):
    """IAS 2 paragraphs 9 and 32: written down only what does not go into things sold above cost."""
    page = "/w/marlow/tax-year/2025/stock/"
    card = books.materials.get()
    kept = {f"fetches_{card.pk}": "1", f"above_{card.pk}": "on"}
    assert client.post(page, kept).status_code == 302
    (row,) = client.get(page).context["rows"]
    assert row[0].value == "€24.00"
    assert client.post(page, {f"fetches_{card.pk}": "1"}).status_code == 302
    (row,) = client.get(page).context["rows"]
    assert (row[0].value, row[0].written_down) == ("€16.00", "€8.00")
    wrong = client.post(page, {f"fetches_{card.pk}": "much"})
    assert wrong.status_code == 422
    assert 'value="much"' in wrong.content.decode()


@pytest.mark.django_db(transaction=True)
def test_finished_and_half_made_items_count_at_the_lower_too(client, books, owner):
    """IAS 2 paragraphs 6 and 9: list price less the channel's fee, where that is below cost."""
    card = books.materials.get()
    version = make_recipe(books, card)
    channel = make_channel(books, tier={"fee_share": D("0.1")})
    set_price(
        version=version, workshop=books, channel=channel, ask=Ask(1, bought_at_once=1),
        price=D(9), colourway=None, by=owner,
    )  # fmt: skip
    # as if costs had risen so far since it was set
    PriceListEntry.objects.update(price=D("0.50"))
    made_on = day(2026, 4, 4)
    made = {"quantity": 4, "minutes": D(30), "made_on": made_on, "today": today()}
    make_batch(item=item_for(version), materials={card.pk: D(2)}, **made)
    start_batch(
        item=item_for(version),
        planned=9,
        materials={card.pk: D(2)},
        started_on=made_on,
        today=today(),
    )
    # 2 of 20 cards that cost 30.00; each item brings 0.50 less 0.05
    finished, half = client.get("/w/marlow/tax-year/2025/stock/").context["made"]
    assert (finished.state, finished.quantity, finished.materials) == ("finished", 4, "€3.00")
    assert (finished.would_fetch, finished.value) == ("€1.80", "€1.80")
    assert finished.written_down == "€1.20"
    assert (half.state, half.quantity, half.would_fetch, half.value) == (
        "half-made", 9, "€4.05", "€3.00"
    )  # fmt: skip
    # 12 cards at 1.50, and the two batches
    stock = client.get("/w/marlow/tax-year/2025/stock/").context
    assert (dict(stock["parts"]), stock["total"]) == (
        {"Materials": "€18.00", "Half-made": "€3.00", "Finished": "€1.80"}, "€22.80",
    )  # fmt: skip
    year = client.get("/w/marlow/tax-year/2025/").context
    assert dict(year["stock_parts"])["Finished"] == "€1.80"
    assert year["written_down"] == "€1.20"
    pack, _ = pack_of(client, 2025)
    lines = rows_of(pack, "finished-stock")
    assert [
        (row["State"], row["Materials"], row["Would fetch"], row["Value"]) for row in lines
    ] == [
        ("finished", "3.00", "1.80", "1.80"),
        ("half-made", "3.00", "4.05", "3.00"),
    ]
    for row in lines:
        assert D(row["Value"]) == min(D(row["Materials"]), D(row["Would fetch"]))
        assert D(row["Written down"]) == D(row["Materials"]) - D(row["Value"])
    lines += rows_of(pack, "stock-value")
    total = {row["Part"]: row["Value"] for row in rows_of(pack, "stock-total")}
    assert sum(D(row["Value"]) for row in lines) == D(total["Total"])
    (shown,) = (one for one in year["figures"] if one["label"] == "Stock at the end")
    assert shown["value_text"] == f"€{total['Total']}"
    PriceListEntry.objects.update(replaced_at=timezone.now())
    finished, half = client.get("/w/marlow/tax-year/2025/stock/").context["made"]
    assert (finished.would_fetch, finished.value) == ("no price", "€3.00")


def pack_of(client, year):
    answer = client.post(f"/w/marlow/tax-year/{year}/pack/")
    do_what_waits()
    work = Work.objects.get()
    assert answer["Location"] == f"/w/marlow/work/{work.pk}/"
    assert work.state == Work.State.DONE, work.refusal
    assert client.get(answer["Location"]).status_code == 200
    fetched = client.get(f"{answer['Location']}file/")
    packed = fetched.getvalue()
    assert len(packed) == work.file_bytes == int(fetched["Content-Length"])
    return zipfile.ZipFile(io.BytesIO(packed)), work


def rows_of(pack, name):
    return list(csv.DictReader(io.StringIO(pack.read(f"csv/{name}.csv").decode("utf-8-sig"))))


@pytest.mark.django_db(transaction=True)
def test_the_pack_has_every_list_and_says_what_it_leaves_open(client, books):
    pack, work = pack_of(client, 2025)
    assert work.file_name == "marlow-tax-year-2025-26.zip"
    names = {Path(name).stem for name in pack.namelist() if name.startswith("csv/")}
    assert names == {
        "receipts", "expenses", "photos-and-pdfs", "spending", "stock-movements", "stock-value",
        "finished-stock", "stock-total", "invoices", "payments", "sales", "sales-by-rate", "shops",
        "tills", "as-first-closed", "reconciliation",
    }  # fmt: skip
    assert {Path(name).stem for name in pack.namelist() if name.startswith("xlsx/")} == names
    told = pack.read("read-me.txt").decode()
    assert "Left to a licensed adviser" in told
    assert "6 April 2025 to 5 April 2026" in told
    (receipt,) = rows_of(pack, "receipts")
    assert (receipt["Date"], receipt["Cost"]) == ("2025-04-06", "20.00")
    assert [row["Cost"] for row in rows_of(pack, "expenses")] == ["50.00"]
    assert [row["Movement"] for row in rows_of(pack, "stock-movements")] == [
        "bought",
        "used in making",
    ]
    (stock,) = rows_of(pack, "stock-value")
    assert (stock["Quantity"], stock["Cost"], stock["Value"]) == ("16", "24.00", "24.00")
    lines = {row["Line"]: row["Amount"] for row in rows_of(pack, "reconciliation")}
    assert (lines["Spent"], lines["Difference"]) == ("20.00", "0.00")


@pytest.fixture
def store(settings, tmp_path):
    files = settings.STORAGES["files"]
    options = {**files["OPTIONS"], "location": str(tmp_path / "files")}
    settings.STORAGES = {**settings.STORAGES, "files": {**files, "OPTIONS": options}}
    return tmp_path / "files"


@pytest.mark.django_db(transaction=True)
def test_the_pack_holds_the_photos_and_pdfs_of_its_year_named_by_receipt(client, books, store):
    """Of two receipts and an expense; of another year, removed and undone ones there are none."""
    inside, outside = Purchase.objects.filter(bought_on__gte="2025-04-06").order_by("bought_on")
    Purchase.objects.filter(pk=inside.pk).update(reference="../A/17 ü")
    van = Expense.objects.get()
    undone = make_receipt(
        books, (Material.objects.get(workshop=books), "1", "1"), bought_on=day(2025, 5, 1)
    )
    sent = [(inside, photo()), (inside, pdf(2)), (outside, photo("blue")), (van, pdf(3)),
            (undone, pdf(4))]  # fmt: skip
    for owner, data in sent:
        add_file(owner=owner, form_key=None, data=data, name="scan.pdf")
    remove_file(row=add_file(owner=inside, form_key=None, data=pdf(5), name="gone.pdf"))
    lost = add_file(owner=van, form_key=None, data=pdf(6), name="lost.pdf")
    (store / lost.pdf.place).unlink()
    reverse_purchase(purchase=undone)
    pack, work = pack_of(client, 2025)
    a, b = (f"receipts/2025-04-06-receipt-{inside.pk}-A-17-{n}" for n in ("1.jpg", "2.pdf"))
    c = f"receipts/2025-08-01-expense-{van.pk}-1.pdf"
    held = [name for name in pack.namelist() if name.startswith("receipts/")]
    assert held == [a, b, c]
    assert pack.read(b) == pdf(2)
    rows = {row["File"]: row for row in rows_of(pack, "photos-and-pdfs")}
    for name in held:
        assert hashlib.sha256(pack.read(name)).hexdigest() == rows[name]["SHA-256"]
        assert len(pack.read(name)) == int(rows[name]["Bytes"])
    assert (rows[a]["Receipt"], rows[a]["Date"]) == (str(inside.pk), "2025-04-06")
    assert (rows[c]["Expense"], rows[c]["Name when added"]) == (str(van.pk), "scan.pdf")
    (receipt,) = rows_of(pack, "receipts")
    assert receipt["Photos and PDFs"] == f"{a}; {b}"
    missing = f"receipts/2025-08-01-expense-{van.pk}-2.pdf"
    assert [row["Photos and PDFs"] for row in rows_of(pack, "expenses")] == [f"{c}; {missing}"]
    assert f"its file is gone: {missing}" in pack.read("read-me.txt").decode()
    assert work.says[-1] == ["warning", "1 photo or PDF is not in it. read-me.txt says which."]
    sheet = load_workbook(io.BytesIO(pack.read("xlsx/photos-and-pdfs.xlsx"))).active
    assert [row[0] for row in sheet.iter_rows(min_row=2, values_only=True)] == [a, b, c, missing]


@pytest.mark.django_db(transaction=True)
def test_a_pack_too_large_to_keep_leaves_papers_out_and_says_which(
    client, books, store, monkeypatch
):
    inside = Purchase.objects.get(bought_on="2025-04-06")
    for number in (2, 3):
        add_file(owner=inside, form_key=None, data=pdf(number), name="scan.pdf")
    monkeypatch.setattr("pricing.tax_year.pack.MOST_BYTES_OF_PAPERS", len(pdf(2)) + 10)
    pack, work = pack_of(client, 2025)
    first, second = (f"receipts/2025-04-06-receipt-{inside.pk}-{n}.pdf" for n in (1, 2))
    assert [name for name in pack.namelist() if name.startswith("receipts/")] == [first]
    assert (
        f"Left out, because the archive would be too large: {second}"
        in pack.read("read-me.txt").decode()
    )
    assert work.says[-1] == ["warning", "1 photo or PDF is not in it. read-me.txt says which."]


@pytest.mark.django_db(transaction=True)
def test_a_pack_is_kept_and_fetched_in_parts(client, books, store, monkeypatch):
    """Each part is small, and the parts are one archive; undone with the work."""
    monkeypatch.setattr("maker.slow_work.doing.BYTES_OF_A_PART", 1000)
    inside = Purchase.objects.get(bought_on="2025-04-06")
    add_file(owner=inside, form_key=None, data=pdf(9), name="scan.pdf")
    pack, work = pack_of(client, 2025)
    sizes = [len(part.content) for part in work.parts.order_by("place")]
    assert work.file is None
    assert set(sizes[:-1]) == {1000}
    assert sum(sizes) == work.file_bytes
    assert pack.testzip() is None
    work.delete()
    assert not WorkPart.objects.exists()


def test_two_clicks_make_one_pack(client, books):
    first = client.post("/w/marlow/tax-year/2025/pack/")["Location"]
    assert client.post("/w/marlow/tax-year/2025/pack/")["Location"] == first
    assert Work.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_sales_stand_by_rate_and_quarter(client, owner, workshop):
    quote = make_quote(workshop)
    make_line(quote, make_recipe(workshop), quantity=20)
    order = accept(quote=sent_quote(quote, owner), who="Ada", on=today(), today=today())
    (delivery,) = order.deliveries.all()
    deliver(delivery=delivery, on=today(), today=today())
    order.refresh_from_db()
    invoice = issue_invoice(delivery=delivery, on=today(), today=today())
    pack, _ = pack_of(client, today().year)
    (row,) = rows_of(pack, "invoices")
    assert (row["Number"], D(row["Total"])) == (invoice.number, invoice.total)
    by_rate = rows_of(pack, "sales-by-rate")
    # its quarter and the year
    assert len(by_rate) == 2
    assert {D(row["Net"]) + D(row["Tax"]) for row in by_rate} == {invoice.total}


class TestInOffice:
    pytestmark = [*in_office, pytest.mark.django_db(transaction=True)]

    def test_every_list_opens_with_its_rows(self, client, books, tmp_path):
        pack, _ = pack_of(client, 2025)
        for name in pack.namelist():
            if name.startswith("xlsx/"):
                heading, *rows = cells_in_office(pack.read(name), "xlsx", tmp_path)
                as_csv = rows_of(pack, Path(name).stem)
                assert len(rows) == len(as_csv)
                assert all(cell.formula is None for row in rows for cell in row)
                if as_csv:
                    assert [cell.shown for cell in heading] == list(as_csv[0])
        _, card = cells_in_office(pack.read("xlsx/stock-value.xlsx"), "xlsx", tmp_path)
        assert (card[0].shown, card[2].value, card[6].value) == ("Card <one>", "16", "24")


def test_a_reader_sees_the_year_and_makes_nothing(reader_client, books):
    assert "Create accountant" not in reader_client.get("/w/marlow/tax-year/2025/").content.decode()
    assert reader_client.post("/w/marlow/tax-year/2025/pack/").status_code == 403


def test_more_rows_cost_no_more_queries(client, books, count_queries):
    with count_queries() as few:
        client.get("/w/marlow/tax-year/2025/")
    for number in range(4):
        other = make_material(books, name=f"Card {number}")
        make_receipt(books, (other, "3", "4.00"), bought_on=day(2025, 6, number + 1))
    with count_queries() as many:
        client.get("/w/marlow/tax-year/2025/")
    assert len(few) == len(many)


def test_a_year_with_closed_months_is_shown_both_ways_with_the_reason(owner, workshop):
    """The worked supplies year: April's late receipt makes the year's use differ by 0.02."""
    enter_the_case(workshop)
    client = Client()
    with time_machine.travel("2027-01-20T12:00:00Z", tick=False):
        client.force_login(owner)
        year = client.get("/w/marlow/tax-year/2026/").content.decode()
        page = client.get("/w/marlow/tax-year/2026/both-ways/")
        pack = {row[0]: row[1:] for row in table_of(workshop, "as-first-closed").rows()}
    # it is worked out when its list is opened
    assert 'hx-get="/w/marlow/tax-year/2026/both-ways/"' in year
    both = page.context["both"]
    (used,) = (one for one in both.figures if one.label == "Used")
    assert used.more == "+€0.02"
    assert pack["Used"][2].quantize(D("0.01")) == D("0.02")
    assert (both.closed, both.months) == (12, 12)
    assert both.late
    assert "Entered after its month was closed" in text_of(page)


def test_a_year_from_within_a_month_says_it_is_shown_in_whole_months(client, books):
    assert client.get("/w/marlow/tax-year/2025/both-ways/").context["both"] is None
    close_through(workshop=books, month=day(2025, 6, 1), today=today())
    page = client.get("/w/marlow/tax-year/2025/both-ways/")
    assert (page.context["both"].first, page.context["both"].closed) == (day(2025, 4, 1), 3)
    assert "In whole months" in text_of(page)
    assert "nothing was entered late" in text_of(page)


def table_of(workshop, name):
    (table,) = (one for one in year_tables(workshop, year_of(workshop, 2026)) if one.name == name)
    return table


def test_long_stock_is_valued_page_by_page_and_its_total_is_that_of_all(client, books):
    for number in range(30):
        other = make_material(books, name=f"Paper {number:02}")
        make_receipt(books, (other, "10", "20.00"), bought_on=day(2025, 5, 1))
    address = "/w/marlow/tax-year/2025/stock/"
    pages = [client.get(f"{address}?page={number}") for number in (1, 2)]
    shown = [[row[0].material.name for row in page.context["rows"]] for page in pages]
    assert [*shown[0], *shown[1]] == ["Card <one>", *(f"Paper {number:02}" for number in range(30))]
    # 16 cards at 1.50, and 30 papers
    assert {page.context["total"] for page in pages} == {"€624.00"}
    (listed,) = (
        one for one in year_tables(books, year_of(books, 2025)) if one.name == "stock-value"
    )
    assert [row[0] for row in listed.rows()] == [*shown[0], *shown[1]]
    # what is saved on one page leads on, and is lost on none
    (last,) = Material.objects.filter(name="Paper 29")
    typed = {f"fetches_{last.pk}": "1"}
    on = client.post(f"{address}?page=2", {**typed, "page": "1"})
    assert on["Location"] == f"{address}?page=1"
    assert client.get(on["Location"]).context["total"] == "€614.00"
    wrong = client.post(f"{address}?page=2", {f"fetches_{last.pk}": "much"})
    assert 'value="much"' in wrong.content.decode()
    assert wrong.context["page"].number == 2
    found = client.get(f"{address}?search=paper+07")
    assert [row[0].material.name for row in found.context["rows"]] == ["Paper 07"]
    assert found.context["total"] == "€614.00"
