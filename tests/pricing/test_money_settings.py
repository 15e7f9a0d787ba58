"""Tax, rounding, coins and deposits through the settings, where pages and documents apply them.

Published examples come from `tests/data/published_checks.json`, each with its source there.
"""

import json
import re
from decimal import Decimal
from io import BytesIO
from pathlib import Path

import pdfplumber
import pytest
from django.conf import settings
from django.urls import reverse

from catalogue.designs.models import Design
from catalogue.materials.models import Pack
from catalogue.stock.models import StockEntry
from maker.calc.money import cash_step, minor_digits
from maker.workshop.models import Workshop
from pricing.channels.models import Channel
from pricing.costs.inputs import workshop_rates
from pricing.prices.models import PriceListEntry
from pricing.quotes.documents import document_of
from pricing.quotes.inputs import work_out
from pricing.quotes.models import Quote
from pricing.quotes.printing import customer_pdf
from pricing.workshop_file.services import import_workshop
from tests.factories import add_fixing, make_channel, make_material, make_pack, make_recipe, today
from tests.pricing.quotes import make_line, make_quote

D = Decimal
CHECKS = {
    check["id"]: check
    for check in json.loads(
        (Path(settings.BASE_DIR) / "tests/data/published_checks.json").read_text(encoding="utf-8")
    )["checks"]
}
WORKED_CASE = Path(settings.BASE_DIR) / "fixtures" / "worked_case.json"


def tax(workshop, rate, *, inside, per_line=False):
    workshop.tax_registered, workshop.tax_rate = True, D(rate) / 100
    workshop.prices_include_tax = inside
    workshop.tax_rounding = "line" if per_line else "document"
    workshop.save()


@pytest.fixture
def version(workshop):
    make_channel(workshop, name="Fair", kind="fair", tier={"price_step": 0})
    return make_recipe(workshop)


def test_who_is_not_registered_asks_no_tax_though_a_rate_is_written_down(workshop, version):
    tax(workshop, "20", inside=True)
    assert workshop_rates(workshop).tax_rate == D("0.2")
    with_tax = public(workshop, version, ["12.00"])
    workshop.tax_registered = False
    workshop.save()
    assert workshop_rates(workshop).tax_rate == 0
    without = public(workshop, version, ["12.00"])
    # 12.00 x 0.2 / 1.2
    assert [D(paper["tax"]) for paper in (with_tax, without)] == [D("2.00"), 0]
    assert [D(paper["total"]) for paper in (with_tax, without)] == [D("12.00"), D("12.00")]


def public(workshop, version, prices, channel=None):
    """What a quote with one line for each price says to the customer."""
    quote = make_quote(workshop, channel=channel)
    for price in prices:
        make_line(quote, version, 1, price_asked=D(price))
    worked = work_out(Quote.objects.with_people().get(pk=quote.pk))
    return document_of(worked, today())["public"]


# D10: tax inside a price that includes it
@pytest.mark.parametrize("place", range(len(CHECKS["D10"]["inputs"]["rows"])))
def test_d10_tax_inside_a_quote_with_tax(workshop, version, place):
    row = CHECKS["D10"]["inputs"]["rows"][place]
    tax(workshop, row["rate"], inside=True)
    said = public(workshop, version, [row["gross"]])
    assert D(said["tax"]) == D(str(CHECKS["D10"]["expected"][f"vat_{place + 1}"]))
    assert D(said["total"]) == D(row["gross"])


# D12: tax on top, and the price before it
@pytest.mark.parametrize("place", range(len(CHECKS["D12"]["inputs"]["rows"])))
def test_d12_tax_on_top_of_a_quote(workshop, version, place):
    row, expected = CHECKS["D12"]["inputs"]["rows"][place], CHECKS["D12"]["expected"]
    tax(workshop, row["rate"], inside="total" in row)
    said = public(workshop, version, [row.get("price") or row["total"]])
    if "price" in row:
        assert D(said["tax"]) == D(str(expected[f"tax_{place + 1}"]))
        if f"total_{place + 1}" in expected:
            assert D(said["total"]) == D(str(expected[f"total_{place + 1}"]))
    else:
        assert D(said["net"]) == D(str(expected[f"price_{place + 1}"]))


# D20: once for a rate or line by line, as the workshop's setting says
@pytest.mark.parametrize(("per_line", "key"), [(False, "vat"), (True, "vat_if_per_line")])
def test_d20_tax_is_rounded_as_the_workshop_says(workshop, version, per_line, key):
    lines = CHECKS["D20"]["inputs"]["lines"]
    tax(workshop, lines[0][6], inside=False, per_line=per_line)
    said = public(workshop, version, [line[1] for line in lines])
    assert D(said["tax"]) == D(str(CHECKS["D20"]["expected"][key]))


# D01: each currency's decimals, through the cost page and a quote's document
@pytest.mark.parametrize("code", CHECKS["D01"]["inputs"]["codes"])
def test_d01_prices_have_the_decimals_of_their_currency(client, workshop, version, code):
    workshop.currency = code
    workshop.save()
    page = reverse("pricing:cost", args=[workshop.slug, version.design_id]) + "?quantity=9"
    price = client.get(page).context["price"]
    digits = CHECKS["D01"]["expected"][code]
    assert -price.total.as_tuple().exponent == digits
    said = public(workshop, version, [price.price_each])
    assert -D(said["total"]).as_tuple().exponent == digits


# D19: what can be paid in coins is what the settings propose
@pytest.mark.parametrize("code", CHECKS["D19"]["inputs"]["codes"])
def test_d19_the_settings_propose_the_smallest_coin(client, workshop, code):
    workshop.currency = code
    workshop.save()
    digits, units = CHECKS["D19"]["expected"][code]
    smallest = D(units or 1).scaleb(-digits)
    page = client.get(reverse("maker:workshop_prices", args=[workshop.slug]))
    assert page.context["coins"] == cash_step(code) == smallest


@pytest.mark.parametrize(("code", "digits"), [("JPY", 0), ("KWD", 3)])
def test_a_currency_without_and_with_three_decimals_on_page_quote_and_tags(
    client, workshop, version, code, digits
):
    """ISO 4217: the yen has none, the Kuwaiti dinar three."""
    Pack.objects.of(workshop).update(price=D(500))
    workshop.currency, workshop.wage_per_hour = code, D(900)
    workshop.save()
    tax(workshop, "10", inside=True)
    assert minor_digits(code) == digits
    pattern = re.compile(r"\d[\d,]*" + (rf"\.\d{{{digits}}}" if digits else "") + r"(?![.\d])")
    design = version.design
    cost = client.get(reverse("pricing:cost", args=[workshop.slug, design.pk]) + "?quantity=9")
    price = cost.context["price"]
    texts = [
        figure.value_text
        for figure in cost.context["figures"]
        if figure.label in ("Suggested price", "Total", "Cost", "Lowest price")
    ]
    quote = make_quote(workshop, channel=Channel.objects.get(workshop=workshop))
    make_line(quote, version, 9)
    fresh = work_out(Quote.objects.with_people().get(pk=quote.pk))
    document = document_of(fresh, today())
    assert D(document["public"]["total"]) == price.total
    assert D(document["public"]["net"]) + D(document["public"]["tax"]) == price.total
    with pdfplumber.open(
        BytesIO(customer_pdf(document | {"state": "draft", "replaced_by": None}))
    ) as pdf:
        text = "".join(page.extract_text() for page in pdf.pages)
    texts += re.findall(r"(?:¥|KWD\s?)[\d,.]*\d", text)
    tags = client.post(
        reverse("pricing:tag_sheet", args=[workshop.slug]),
        {
            "sheet": "a4-24", "start_at": "1", "qr": "", "tags-TOTAL_FORMS": "1",
            "tags-INITIAL_FORMS": "0", "tags-0-design": design.name, "tags-0-count": "1",
            "tags-0-price": f"{price.price_each:f}",
        },
    )  # fmt: skip
    assert tags["Content-Type"] == "application/pdf"
    with pdfplumber.open(BytesIO(tags.content)) as pdf:
        tag = "".join(page.extract_text() for page in pdf.pages)
    found = re.findall(r"(?:¥|KWD\s?)[\d,.]*\d", tag)
    assert found
    for written in [*texts, *found]:
        assert pattern.search(written), written
        assert len(written.rpartition(".")[2]) == digits if digits else "." not in written


# --- coins ---


def test_a_total_of_the_stall_is_told_in_coins(client, workshop, version):
    workshop.cash_step = D("0.05")
    workshop.save()
    page = reverse("pricing:cost", args=[workshop.slug, version.design_id])
    response = client.get(f"{page}?quantity=9")
    price = response.context["price"]
    # nine at 4.66 (28.80 + 0.50 over 0.7, by nine, up to a cent): 41.94
    assert price.total == D("41.94")
    shown = {figure.label: figure for figure in response.context["figures"]}
    assert shown["Paid in cash"].value_text == "€41.95"
    workshop.cash_step = 0
    workshop.save()
    assert "Paid in cash" not in client.get(f"{page}?quantity=9").content.decode()


def test_tags_that_no_coins_pay_are_named_on_their_page(client, owner, workshop, version):
    channel = Channel.objects.get(workshop=workshop)
    for price, replaced in (("4.83", None),):
        PriceListEntry.objects.create(
            design=version.design,
            version=version,
            channel=channel,
            price=D(price),
            cost_each=1,
            floor_each=1,
            target_each=1,
            replaced_at=replaced,
        )
    page = reverse("pricing:tag_sheet", args=[workshop.slug])
    assert "in coins" not in client.get(page).content.decode()
    workshop.cash_step = D("0.05")
    workshop.save()
    assert "€4.83 is €4.85 in coins" in client.get(page).content.decode()


# --- deposits ---


@pytest.fixture
def worked(owner):
    return import_workshop(json.loads(WORKED_CASE.read_text(encoding="utf-8")), owner=owner)


def test_the_worked_case_asks_for_the_same_deposit_under_both_rules(client, worked):
    page = reverse("pricing:cost", args=[worked.slug, Design.objects.of(worked).get().pk])
    for rule in Workshop.DepositRule.values:
        Workshop.objects.filter(pk=worked.pk).update(deposit_rule=rule)
        price = client.get(f"{page}?quantity=60").context["price"]
        # p.deposit and buy.cash of the worked case: 254 by 40 %, 87.45 x 1.2 of packs
        assert price.deposit == D(254)
        line = price.explanation.find("p.deposit")
        assert line.number == D(254)
    assert line.find("deposit.sunk").number == D("104.94")


@pytest.fixture
def ordered(workshop):
    """A channel with 40% deposit and a design of a sheet other designs have too."""
    channel = make_channel(
        workshop, tier={"deposit_share": D("0.4"), "payments_per_sale": 2, "price_step": D("0.05")}
    )
    shared = make_material(workshop)
    make_pack(shared)
    make_recipe(workshop, shared)
    version = make_recipe(workshop, shared)
    # a reel of 100 m for 65.00, of which one piece takes a metre
    reel = make_material(workshop, kind="length")
    make_pack(reel, name="reel", quantity=D(100), price=D(65))
    add_fixing(version, reel)
    workshop.deposit_rule = "cover"
    workshop.save()
    return channel, version, reel


def deposit_on_page(client, workshop, version, quantity=9):
    page = reverse("pricing:cost", args=[workshop.slug, version.design_id])
    return client.get(f"{page}?quantity={quantity}").context["price"]


def test_a_deposit_covers_packs_of_no_other_use(client, workshop, ordered):
    _, version, _ = ordered
    price = deposit_on_page(client, workshop, version)
    # (28.80 + 0.50 + 9 x 0.65) / 0.7 / 9 = 5.579 -> 5.60; 50.40 in all; 40 % is 21, the reel 65.00
    assert price.total == D("50.40")
    assert price.deposit == price.total
    assert price.explanation.find("deposit.sunk").number == D("65.00")


def test_a_pack_that_another_design_uses_up_is_not_covered(client, workshop, ordered):
    _, version, reel = ordered
    other = make_recipe(workshop)
    add_fixing(other, reel)
    assert deposit_on_page(client, workshop, version).deposit == D(21)
    other.design.retired_on = today()
    other.design.save()
    assert deposit_on_page(client, workshop, version).deposit == D("50.40")


def test_what_is_on_the_shelf_need_not_be_covered(client, workshop, ordered):
    _, version, reel = ordered
    reel.on_hand = D(50)
    reel.save()
    assert StockEntry.objects.count() == 0
    assert deposit_on_page(client, workshop, version).deposit == D(21)


def test_the_share_alone_is_the_rule_until_she_chooses(client, workshop, ordered):
    _, version, _ = ordered
    workshop.deposit_rule = "share"
    workshop.save()
    assert deposit_on_page(client, workshop, version).deposit == D(21)


def test_where_no_deposit_is_asked_none_covers_anything(client, workshop, ordered):
    channel, version, _ = ordered
    channel.tiers.update(deposit_share=0, payments_per_sale=1)
    assert deposit_on_page(client, workshop, version).deposit == 0


def test_a_quote_asks_for_it_and_its_pdf_does_not_call_it_a_share(workshop, ordered):
    channel, version, _ = ordered
    quote = make_quote(workshop, channel=channel)
    make_line(quote, version, 9)
    worked = work_out(Quote.objects.with_people().get(pk=quote.pk))
    document = document_of(worked, today())
    assert document["public"]["deposit"] == "50.40"
    assert document["deposit_share"] == "0"
    pdf = customer_pdf(document | {"state": "draft", "replaced_by": None})
    with pdfplumber.open(BytesIO(pdf)) as opened:
        text = "".join(page.extract_text() for page in opened.pages)
    assert "Deposit, when you accept" in text
    assert "40%" not in text


def test_both_rules_take_the_same_queries_for_more_materials(
    client, workshop, ordered, count_queries
):
    _, version, _ = ordered
    deposit_on_page(client, workshop, version)
    with count_queries() as few:
        deposit_on_page(client, workshop, version)
    for _ in range(4):
        more = make_material(workshop, kind="length")
        make_pack(more)
        add_fixing(version, more)
    with count_queries() as many:
        deposit_on_page(client, workshop, version)
    assert len(many) == len(few)


# --- the settings page ---

GOOD = {
    "cash_step": "0.05",
    "deposit_rule": "cover",
    "reprice_share": "7.5",
    "timing_share": "12",
    "reprice_after_months": "9",
}


def save(client, workshop, **fields):
    workshop.refresh_from_db()
    data = {**GOOD, "edit_number": workshop.edit_number, **fields}
    answer = client.post(reverse("maker:workshop_prices", args=[workshop.slug]), data)
    workshop.refresh_from_db()
    return answer


def test_everything_is_saved(client, workshop):
    assert save(client, workshop).status_code == 302
    assert (workshop.cash_step, workshop.deposit_rule) == (D("0.05"), "cover")
    assert (workshop.reprice_share, workshop.timing_share) == (D("0.075"), D("0.12"))
    assert workshop.reprice_after_months == 9


def test_an_empty_step_means_no_rounding(client, workshop):
    assert save(client, workshop, cash_step="").status_code == 302
    assert workshop.cash_step == 0


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("cash_step", "-0.05"), ("cash_step", "0.005"), ("cash_step", "x"),
        ("deposit_rule", "all"), ("deposit_rule", ""), ("reprice_share", "101"),
        ("reprice_share", ""), ("timing_share", "-1"), ("reprice_after_months", "0"),
        ("reprice_after_months", "121"), ("reprice_after_months", "1.5"),
    ],
)  # fmt: skip
def test_wrong_entries_are_kept_and_change_nothing(client, workshop, field, value):
    answer = save(client, workshop, **{field: value})
    assert field in answer.context["form"].errors
    assert workshop.deposit_rule == "share"
    assert workshop.edit_number == 0


def test_the_second_of_two_people_is_told(client, workshop):
    save(client, workshop)
    answer = save(client, workshop, edit_number="0", reprice_after_months="3")
    assert answer.status_code == 422  # as every post that stored nothing
    assert workshop.reprice_after_months == 9


def test_only_owners_come_in(helper_client, reader_client, anonymous_client, workshop):
    page = reverse("maker:workshop_prices", args=[workshop.slug])
    assert helper_client.get(page).status_code == 403
    assert reader_client.get(page).status_code == 403
    assert anonymous_client.get(page).status_code == 302
