"""The pages of what was spent: who sees them, what the address may say, budgets, bad input."""

import datetime
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from decimal import Decimal
from html import unescape
from typing import Any

import pytest
import time_machine
from django.test import Client

from catalogue.expenses.services import ExpenseInput, add_expense
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase
from catalogue.stock.services import count_stock, move_stock
from maker.documents.charts import Bar, bar_chart
from maker.workshop.models import Workshop
from pricing.closed_months.services import close_through
from pricing.spending.models import Budget
from pricing.spending.services import set_budgets
from tests import factories
from tests.catalogue.pages import sent_to_sign_in, text_of
from tests.catalogue.receipts import TODAY, make_draft, make_receipt

SPEND = "/w/marlow/spending/"
MARCH = "/w/marlow/spending/2026/3/"
BUDGET = "/w/marlow/spending/budget/"
STOCK = "/w/marlow/spending/stock/"
QUARTER = "?first=2026-01&last=2026-03"


@pytest.fixture(autouse=True)
def _in_march() -> Iterator[None]:
    with time_machine.travel(datetime.datetime(2026, 3, 31, 12, tzinfo=datetime.UTC), tick=False):
        yield


def day(month: int, number: int) -> datetime.date:
    return datetime.date(2026, month, number)


@pytest.fixture
def card(workshop: Workshop) -> Material:
    return factories.make_material(workshop, name="Bramble <card>")


@pytest.fixture
def quarter(workshop: Workshop, card: Material) -> Material:
    """The quarter costed by hand in the worked case, line by line."""

    def use(amount: str, on: datetime.date) -> None:
        move_stock(material=card, kind="used", amount=Decimal(amount), moved_on=on, today=TODAY)

    mill = factories.make_supplier(workshop, name="Larkspur & Mill")
    make_receipt(workshop, (card, "48", "25.10"), bought_on=day(1, 3), supplier=mill)
    use("32", day(1, 19))
    make_receipt(workshop, (card, "72", "41.01"), bought_on=day(2, 2), supplier=mill)
    use("40", day(2, 20))
    count_stock(material=card, counted=Decimal(45), moved_on=day(2, 28), today=TODAY)
    make_receipt(
        workshop, (card, "24", "14.20"), bought_on=day(3, 12), supplier=mill, reference="LM-7"
    )
    use("30", day(3, 25))
    set_budgets(workshop=workshop, month=day(1, 1), amounts={"paper": Decimal(30)})
    return card


def cells(page: str, label: str) -> list[list[str]]:
    """Return the rows of a table of the page as text."""
    table = re.search(rf'aria-label="{label}">(.*?)</table>', page, re.S)
    assert table is not None
    rows = re.findall(r"<tr>(.*?)</tr>", table[1], re.S)
    cell = re.compile(r"<t[hd].*?</t[hd]>", re.S)
    return [
        [" ".join(re.sub(r"<[^>]+>", " ", one).split()) for one in cell.findall(row)]
        for row in rows
    ]


def test_the_quarter_worked_by_hand_stands_on_the_page(client: Client, quarter: Material) -> None:
    page = text_of(client.get(STOCK + QUARTER))
    table = cells(page, "Bought, used and in stock")
    assert table[0] == [
        "When", "Spent", "Budget", "Over or under", "A year before", "vs last year",
        "Used", "Scrapped or missing", "Other removals", "In stock",
    ]  # fmt: skip
    # spent, over, used, lost and closing of the worked case's ledger, in cents
    assert [row[:4] for row in table[1:4]] == [
        ["Jan 2026", "€25.10", "€30.00", "€4.90 under"],
        ["Feb 2026", "€41.01", "€30.00", "€11.01 over"],
        ["Mar 2026", "€14.20", "€30.00", "€15.80 under"],
    ]
    assert table[4] == [
        "Total", "€80.31", "€90.00", "€9.69 under", "–", "–",
        "€56.33", "€1.68", "€0.00", "€22.30",
    ]  # fmt: skip
    assert re.search(r"Difference</th><td[^>]*><strong>€0\.00<", page)
    assert "Rounding" not in page
    assert "+€80.31" in page
    assert "−€56.33" in page
    assert "−€1.68" in page


def test_used_and_in_stock_are_read_beside_what_was_spent(
    client: Client, quarter: Material
) -> None:
    page = client.get(SPEND + QUARTER).content.decode()
    shelf = re.search(r'class="spend-shelf" hx-get="([^"]+)" hx-trigger="load"', page)
    assert shelf is not None
    told = text_of(client.get(unescape(shelf[1]), headers={"HX-Request": "true"}))
    for words in ("<dd>€56.33</dd>", "<dd>€22.30</dd>", "at the end, and it adds up"):
        assert words in told
    assert "Stock below zero" not in told
    move_stock(material=quarter, kind="used", amount=Decimal(500), moved_on=day(3, 26), today=TODAY)
    assert "Stock below zero" in text_of(client.get(f"{SPEND}shelf/{QUARTER}"))
    supplier = quarter.workshop.suppliers.get()
    told = text_of(client.get(f"{SPEND}shelf/{QUARTER}&supplier={supplier.pk}"))
    assert "Stock isn’t kept by supplier" in told.replace("'", "’")


def test_the_chart_has_its_words_and_its_table(client: Client, quarter: Material) -> None:
    page = client.get(SPEND + QUARTER).content.decode()
    chart = re.search(r'<svg class="chart".*?</svg>', page, re.S)
    assert chart is not None
    drawn = ElementTree.fromstring(chart[0])  # noqa: S314  # our own text
    svg = "{http://www.w3.org/2000/svg}"
    assert drawn[0].text == "Spent, Jan 2026 to Mar 2026"
    assert "most in Feb 2026 with €41.01" in str(drawn[1].text)
    told = [one.text for one in drawn.iter(f"{svg}title")]
    assert "Feb 2026: Paper and card, €41.01" in told
    assert not [part for part in drawn.iter() if "style" in part.attrib]
    assert cells(text_of(client.get(SPEND + QUARTER)), "What the chart shows")[2] == [
        "Feb 2026", "€41.01", "€41.01 €11.01 over",
    ]  # fmt: skip


def test_a_month_leads_to_its_receipts_and_they_to_the_receipt(
    client: Client, quarter: Material
) -> None:
    page = client.get(SPEND + QUARTER).content.decode()
    assert f'href="{MARCH}"' in page
    month = client.get(MARCH).content.decode()
    receipt = Purchase.objects.get(reference="LM-7")
    assert f'href="/w/marlow/receipts/{receipt.pk}/"' in month
    assert "1 receipt" in month
    assert "Larkspur &amp; Mill" in month
    assert "€15.80 under" in month
    assert "€14.20 of €30.00 where you set a budget" in month
    empty = client.get("/w/marlow/spending/2026/5/").content.decode()
    assert "No receipts this month" in empty


def test_filters_stay_in_the_links(client: Client, quarter: Material, workshop: Workshop) -> None:
    other = factories.make_material(workshop, name="Glue", category="glue", kind="volume")
    make_receipt(workshop, (other, "10", "7.00"), bought_on=day(3, 2))
    page = client.get(f"{SPEND}{QUARTER}&category=glue&by=material").content.decode()
    assert f'href="{MARCH}?by=material&amp;category=glue"' in page
    month = client.get(f"{MARCH}?by=material&category=glue").content.decode()
    assert "1 receipt" in month
    assert "€7.00" in month
    assert "€14.20" not in month
    assert "part of the month" in month


@pytest.mark.parametrize("by", ["category", "supplier", "material"])
@pytest.mark.parametrize("each", ["", "year"])
def test_every_way_to_look_comes_to_the_same_sum(
    client: Client, quarter: Material, by: str, each: str
) -> None:
    page = text_of(client.get(f"{SPEND}{QUARTER}&by={by}&each={each}"))
    table = cells(page, "What the chart shows")
    assert table[-1][-1] == "€80.31"
    assert len(table) == (3 if each else 5)


def test_it_is_a_file_too(client: Client, quarter: Material) -> None:
    answer = client.get(f"{SPEND}{QUARTER}&format=csv")
    assert answer["Content-Type"].startswith("text/csv")
    lines = answer.content.decode("utf-8-sig").splitlines()
    assert lines[0].startswith("From,To,Paper and card,Spent,Budget")
    assert lines[2].startswith("2026-02-01,2026-02-28,41.01,41.01,30")
    assert client.get(f"{SPEND}{QUARTER}&format=xlsx").content[:2] == b"PK"


@pytest.mark.parametrize(
    "query",
    [
        "first=2026-13", "first=0000-01", "first=yesterday", "last=2026-02-30",
        "first=" + "9" * 400, "first=2026-05&last=2026-01", "first=1990-01&last=2026-01",
        "last=9999-12",
        "first=2100-12", "first=1990-01", "last=1990-01", "by=shelf", "each=week",
        "category=gold", "supplier=999999",
        "supplier=x", "material=-1", "material=" + "9" * 30, "category=%00", "first=%00&by=%F0%9F",
        "first=١٩٩٩-٠١", "first=2026-01&first=2026-02", "page=9&sort=x", "format=pdf",
    ],
)  # fmt: skip
def test_whatever_the_address_says_there_is_a_page(
    client: Client, quarter: Material, query: str
) -> None:
    for part in (
        "",
        "2026/3/",
        "shelf/",
        "groups/",
        "everything/",
        "orders-and-fairs/",
        "prices/",
        "filter/",
    ):
        assert client.get(f"{SPEND}{part}?{query}").status_code == 200
    answer = client.get(f"{STOCK}?{query}")
    assert re.search(r"Difference</th><td[^>]*><strong>€0\.00<", text_of(answer))


def test_a_span_that_cannot_be_meant_is_said_and_the_last_year_is_shown(
    client: Client, quarter: Material
) -> None:
    page = text_of(client.get(f"{SPEND}?first=2026-05&last=2026-01"))
    assert "The last month is before the first." in page
    assert "Apr 2025 to Mar 2026" in page
    assert "No more than 10 years" in text_of(client.get(f"{SPEND}?first=1990-01&last=2026-01"))
    assert "Enter a month like" in text_of(client.get(f"{SPEND}?first=soon"))


def test_a_new_workshop_s_list_begins_with_its_first_entry(
    client: Client, workshop: Workshop, card: Material
) -> None:
    make_receipt(workshop, (card, "48", "25.10"), bought_on=day(2, 3))

    def months(query: str = "") -> list[str]:
        rows = cells(text_of(client.get(f"{SPEND}{query}")), "What the chart shows")
        return [row[0] for row in rows[1:-1]]

    assert months() == ["Feb 2026", "Mar 2026"]
    assert "Feb 2026 to Mar 2026" in text_of(client.get(SPEND))
    assert len(months("?by=supplier")) == 2
    # what is asked for is shown
    assert months("?first=2026-01") == ["Jan 2026", "Feb 2026", "Mar 2026"]
    assert len(months("?last=2026-03")) == 12
    # what was in stock, an expense or a budget is something too
    set_budgets(workshop=workshop, month=day(1, 1), amounts={"paper": Decimal(30)})
    assert months()[0] == "Jan 2026"
    add_expense(
        workshop=workshop,
        expense=ExpenseInput(datetime.date(2025, 12, 8), "Rent", Decimal(90)),
        today=TODAY,
    )
    assert months()[0] == "Dec 2025"
    move_stock(
        material=card, kind="gift", amount=Decimal(2), moved_on=datetime.date(2025, 6, 1),
        today=TODAY,
    )  # fmt: skip
    assert months()[0] == "Jun 2025"


def test_closed_months_are_marked_in_the_list(client: Client, quarter: Material) -> None:
    close_through(workshop=quarter.workshop, month=day(2, 1), today=TODAY)

    def marked(query: str, label: str) -> list[str]:
        path = STOCK if label == "Bought, used and in stock" else SPEND
        rows = cells(text_of(client.get(f"{path}{query}")), label)
        return [row[0] for row in rows[1:] if row[0].endswith(" closed")]

    for label in ("What the chart shows", "Bought, used and in stock"):
        assert marked(QUARTER, label) == ["Jan 2026 closed", "Feb 2026 closed"]
    # a year or quarter is closed with its last month
    assert marked(f"{QUARTER}&each=quarter", "What the chart shows") == []
    close_through(workshop=quarter.workshop, month=day(3, 1), today=datetime.date(2026, 4, 1))
    assert marked(f"{QUARTER}&each=quarter", "What the chart shows") == ["Q1 2026 closed"]


@pytest.mark.parametrize("path", ["0/1", "1989/12", "2101/1", "2026/0", "2026/13", "99999/1"])
def test_a_month_that_is_none_is_404(client: Client, workshop: Workshop, path: str) -> None:
    assert client.get(f"{SPEND}{path}/").status_code == 404


@pytest.mark.parametrize("path", ["1990/1", "2100/12"])
def test_the_first_and_last_month_open(client: Client, workshop: Workshop, path: str) -> None:
    assert client.get(f"{SPEND}{path}/").status_code == 200


def test_an_empty_workshop_is_told_what_to_do(client: Client, workshop: Workshop) -> None:
    assert "Enter a receipt" in client.get(SPEND).content.decode()
    make_draft(workshop, (factories.make_material(workshop), "1", "5.00"))
    assert "No receipts yet" in client.get(SPEND).content.decode()


def test_a_receipt_still_to_come_is_said(
    client: Client, workshop: Workshop, quarter: Material
) -> None:
    later = Purchase.objects.get(reference="LM-7")
    Purchase.objects.filter(pk=later.pk).update(bought_on=day(4, 1))
    later.lines.get().stock_entries.update(moved_on=day(4, 1))
    page = text_of(client.get(SPEND))
    assert "1 receipt dated in the future" in page
    assert "€14.20" not in page
    assert "€14.20" in text_of(client.get(f"{SPEND}?first=2026-04&last=2026-04"))


def test_a_currency_without_decimals(client: Client, workshop: Workshop) -> None:
    workshop.currency, workshop.locale = "JPY", "ja_JP"
    workshop.save()
    paper = factories.make_material(workshop)
    make_receipt(workshop, (paper, "7", "1000"), bought_on=day(3, 2))
    move_stock(material=paper, kind="used", amount=Decimal(3), moved_on=day(3, 3), today=TODAY)
    page = text_of(client.get(STOCK))
    # 3 / 7 of 1000 is 428.57
    assert "￥429" in page
    assert "￥571" in page
    assert re.search(r"Difference</th><td[^>]*><strong>￥0<", page)


def test_who_gets_in(
    client: Client,
    helper_client: Client,
    reader_client: Client,
    stranger_client: Client,
    anonymous_client: Client,
    quarter: Material,
) -> None:
    for path in (SPEND, MARCH):
        assert sent_to_sign_in(anonymous_client.get(path))
        assert stranger_client.get(path).status_code == 404
        for one in (client, helper_client, reader_client):
            assert one.get(path).status_code == 200
        assert client.post(path).status_code == 405
    assert "Set budgets" not in reader_client.get(SPEND).content.decode()
    everybody = (client, helper_client, reader_client, stranger_client)
    assert [one.get(BUDGET).status_code for one in everybody] == [200, 200, 403, 404]
    assert reader_client.post(BUDGET, {"month": "2026-03", "paper": "1"}).status_code == 403
    assert Budget.objects.count() == 1


def test_another_workshops_supplier_narrows_nothing(
    client: Client, other_workshop: Workshop, quarter: Material
) -> None:
    theirs = factories.make_supplier(other_workshop, name="Theirs")
    page = client.get(f"{SPEND}{QUARTER}&supplier={theirs.pk}").content.decode()
    assert "€80.31" in page
    assert "Theirs" not in page


def test_budgets_are_set_from_a_month_on(client: Client, quarter: Material) -> None:
    page = client.get(BUDGET).content.decode()
    assert 'value="30.00"' in page
    sent = {"month": "2026-03", "paper": "12.50", "glue": ""}
    answer = client.post(BUDGET, sent, follow=True)
    assert "From March 2026: Paper and card." in text_of(answer)
    table = cells(text_of(client.get(STOCK + QUARTER)), "Bought, used and in stock")
    assert [row[3] for row in table[1:4]] == ["€4.90 under", "€11.01 over", "€1.70 over"]
    again = client.post(BUDGET, sent, follow=True)
    assert "Nothing changed" in text_of(again)
    client.post(BUDGET, {"month": "2026-03", "paper": ""})
    table = cells(text_of(client.get(STOCK + QUARTER)), "Bought, used and in stock")
    assert [row[2] for row in table[1:4]] == ["€30.00", "€30.00", "–"]


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({"month": ""}, "month"),
        ({"month": "2026-00"}, "month"),
        ({"month": "soon"}, "month"),
        ({"month": "2026-03", "paper": "-1"}, "paper"),
        ({"month": "2026-03", "paper": "lots"}, "paper"),
        ({"month": "2026-03", "paper": "1e9"}, "paper"),
        ({"month": "2026-03", "glue": "99999999"}, "glue"),
    ],
)
def test_a_budget_that_cannot_be_meant_is_kept_and_explained(
    client: Client, workshop: Workshop, sent: dict[str, str], field: str
) -> None:
    answer = client.post(BUDGET, sent)
    assert answer.status_code == 422
    assert list(answer.context["form"].errors) == [field]
    assert not Budget.objects.exists()


def test_home_shows_the_month_against_its_budget(client: Client, quarter: Material) -> None:
    page = text_of(client.get("/w/marlow/"))
    assert "Spending in March" in page
    assert f'<a href="{MARCH}">€14.20</a>' in page
    assert "of €30.00: €15.80 under" in page
    with time_machine.travel(datetime.datetime(2026, 2, 28, 12, tzinfo=datetime.UTC), tick=False):
        page = text_of(client.get("/w/marlow/"))
    assert "€11.01 over" in page
    assert "Paper and card: €11.01 over" in page


def test_more_receipts_cost_no_more_queries(
    client: Client, workshop: Workshop, quarter: Material, count_queries: Any
) -> None:
    def queries() -> list[int]:
        found = []
        for path in (f"{SPEND}{QUARTER}&by=material", f"{MARCH}?by=supplier", "/w/marlow/"):
            client.get(path)
            with count_queries() as counted:
                client.get(path)
            found.append(len(counted))
        return found

    few = queries()
    for number in range(4):
        extra = factories.make_material(workshop)
        make_receipt(workshop, (extra, "3", "4.00"), bought_on=day(3, number + 1))
    assert queries() == few
    # Spending asks for the month that runs, expenses, the prices of a year, what orders and fairs
    # cost (three) and which months are closed, Home for orders and messages
    assert max(few) <= 25


def test_bars_are_in_proportion_and_say_what_they_are() -> None:
    svg = "{http://www.w3.org/2000/svg}"
    bars = [
        Bar("One", "1", "", [(10.0, "a <b>"), (30.0, "c")], mark=(20.0, "mark")),
        Bar("Two", "2", "", [(20.0, "d"), (0.0, "none")], before=(40.0, "before")),
    ]
    chart = ElementTree.fromstring(  # noqa: S314  # our own text
        bar_chart(bars, title="T", description="D", tick_text="{:g}".format, patterns="", name="x")
    )
    drawn = {one[0].text: one.attrib for one in chart.iter(f"{svg}rect")}
    assert set(drawn) == {"One: a <b>", "One: c", "Two: d", "Two: before"}
    height = {name: float(one["height"]) for name, one in drawn.items()}
    assert height["One: c"] == pytest.approx(height["One: a <b>"] * 3, abs=0.2)
    assert height["Two: before"] == pytest.approx(height["Two: d"] * 2, abs=0.2)
    assert drawn["One: c"]["fill"] == "url(#x-2)"
    assert float(drawn["One: c"]["y"]) + height["One: c"] == pytest.approx(
        float(drawn["One: a <b>"]["y"]), abs=0.2
    )
    assert bar_chart([], title="", description="", tick_text=str, patterns="") == ""


def test_expenses_stand_beside_supplies_and_never_in_stock(
    client: Client, workshop: Workshop, quarter: Material
) -> None:
    def expense(what: str, net: str, on: datetime.date, category: str) -> None:
        typed = ExpenseInput(on, what, Decimal(net), category=category)
        add_expense(workshop=workshop, expense=typed, today=TODAY)

    expense("Insurance", "120", day(1, 5), "insurance")
    expense("Van hire", "62.50", day(3, 7), "travel")
    expense("Insurance, paid back", "-20", day(3, 9), "insurance")
    page = text_of(client.get(f"{SPEND}everything/{QUARTER}"))
    # 80.31 of receipts by hand in the worked case; 162.50 of expenses
    for words in (
        "Everything you spent",
        "€80.31",
        "€162.50",
        "€242.81",
        "Travel and van hire",
    ):
        assert words in page
    assert "€242.81 with expenses" in text_of(client.get(SPEND + QUARTER))
    month = text_of(client.get(MARCH))
    for words in ("Travel and van hire", "€62.50", "−€20.00", "€42.50", "€56.70"):
        assert words in month
    assert "Everything you spent" not in text_of(client.get(f"{SPEND}{QUARTER}&category=paper"))


def test_the_month_that_runs_shows_budgets_carried_on_and_what_orders_need(
    client: Client, workshop: Workshop
) -> None:
    paper = factories.make_material(workshop, name="Card", category="paper")
    this, last = day(3, 1), day(2, 1)
    make_receipt(workshop, (paper, "10", "30.00"), bought_on=last)
    set_budgets(workshop=workshop, month=last, amounts={"paper": Decimal(40)}, carried={"paper"})
    make_receipt(workshop, (paper, "10", "15.00"), bought_on=this)
    page = text_of(client.get(SPEND))
    assert "15.00 spent" in page
    # 40 + 10 carried on - 15
    assert "35.00" in page
    form = client.get(f"{SPEND}budget/").context["form"]
    assert form.initial["carry"] == ["paper"]


def test_a_budget_is_carried_on_from_the_page(client: Client, workshop: Workshop) -> None:
    typed = {"month": "2026-03", "paper": "40", "carry": ["paper"]}
    assert client.post(f"{SPEND}budget/", typed).status_code == 302
    budget = workshop.budgets.get()
    assert (budget.amount, budget.carries_over) == (Decimal(40), True)
    assert client.post(f"{SPEND}budget/", typed | {"carry": []}).status_code == 302
    assert not workshop.budgets.get().carries_over


def test_supplies_that_cost_more_are_told_in_words(client: Client, workshop: Workshop) -> None:
    paper = factories.make_material(workshop, name="Card", category="paper")
    for days, amount in ((800, "10.00"), (600, "10.00"), (100, "11.00")):
        bought_on = day(3, 31) - datetime.timedelta(days=days)
        make_receipt(workshop, (paper, "10", amount), bought_on=bought_on)
    assert f'href="{SPEND}prices/"' in client.get(SPEND).content.decode()
    page = text_of(client.get(f"{SPEND}prices/"))
    assert "Your supplies cost 10% more than a year ago, mostly paper and card." in page


def test_a_bar_leads_to_its_receipts(client: Client, workshop: Workshop) -> None:
    paper = factories.make_material(workshop)
    make_receipt(workshop, (paper, "10", "30.00"), bought_on=day(3, 9))
    page = client.get(SPEND).content.decode()
    here = f"{SPEND}2026/3/"
    assert f'<a href="{here}" aria-label="Mar 2026"><rect' in page


def test_quarters_have_their_names(client: Client, workshop: Workshop) -> None:
    paper = factories.make_material(workshop)
    make_receipt(workshop, (paper, "10", "30.00"), bought_on=day(2, 3))
    page = text_of(client.get(f"{SPEND}?first=2026-01&last=2026-12&each=quarter"))
    assert "Q1 2026" in page
