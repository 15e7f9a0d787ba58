"""A price explained for a customer: what is in it is told, what is hers is nowhere in it."""

import io
import json
import re
from decimal import Decimal
from pathlib import Path

import pdfplumber
import pikepdf
import pytest
from django.conf import settings
from django.urls import reverse

from catalogue.calc.recipes.recipe import Basis, RecipeStep
from catalogue.designs.models import Design
from maker.calc.money import format_money
from pricing.calc.papers.defence import (
    CUTTING,
    FINISHING,
    FOLDING,
    GLUING,
    READY,
    defence_of,
    group_of,
)
from pricing.workshop_file.services import import_workshop
from tests.calc.kept_prices import priced
from tests.factories import make_channel, make_recipe
from tests.pricing.quotes import make_line, make_quote, sent_quote
from tests.pricing.test_quote_pdf import everything_in

WORKED_CASE = Path(settings.BASE_DIR) / "fixtures" / "worked_case.json"
D = Decimal


def address(workshop, pk, query="", name="for_customer"):
    return reverse(f"pricing:{name}", args=[workshop.slug, pk]) + query


@pytest.fixture
def worked(owner):
    """The worked case, 60 of it."""
    workshop = import_workshop(json.loads(WORKED_CASE.read_text(encoding="utf-8")), owner=owner)
    return workshop, Design.objects.of(workshop).get().pk


def test_minutes_by_group_are_those_of_the_job():
    job, _, _ = priced(60)
    found = defence_of(job, job.quantity)
    # t.per of the worked case: 17.3221 minutes for one
    assert round(found.minutes, 4) == round(job.minutes / 60, 4) == D("17.3221")
    assert found.spares == job.made - 60
    assert sum(row.in_all for row in found.materials if row.unit == "sheet") == job.sheets


@pytest.mark.parametrize(
    ("basis", "name", "group"),
    [
        (Basis.JOB, "set up the job", READY),
        (Basis.SHEET, "glue", CUTTING),
        (Basis.MADE, "Score and fold", FOLDING),
        (Basis.MADE, "seam and base", GLUING),
        (Basis.MADE, "tag and bow", FINISHING),
        (Basis.MADE, "zusammenlegen", FINISHING),
    ],
)
def test_steps_are_grouped_by_what_they_are_counted_by_else_by_name(basis, name, group):
    assert group_of(RecipeStep(name, basis)) == group


def test_the_page_tells_materials_minutes_and_larger_quantities(client, worked):
    workshop, pk = worked
    response = client.get(address(workshop, pk, "?quantity=60"))
    told = response.context["told"]
    # p.unit of the worked case
    assert told["price_each"] == "€10.55"
    assert told["minutes"] == "17.3"
    assert [row["quantity"] for row in told["offers"]] == ["250"]
    page = response.content.decode()
    for said in ("Patterned card", "If you order more", "All handwork", "Handwork for each"):
        assert said in page


def own_figures(workshop, quantity):
    """Every figure of the worked case that is hers, as it would be written."""
    job, price, _ = priced(quantity)
    amounts = [
        *(workshop.wage_per_hour, price.profit, price.fees, job.cost, job.cost_each),
        *(job.labour_cost, job.overhead_cost, job.sheets_cost, job.other_cost),
        job.sheets_cost + job.other_cost + job.packing_cost,
        *(price.floor_each, price.floor_net, price.per_hour, price.net),
    ]
    shares = [price.margin, price.markup]
    texts = {format_money(amount, "EUR", "en_GB").removeprefix("€") for amount in amounts}
    texts |= {f"{share * 100:.1f}%" for share in shares}
    unit_costs = [use.material.cost.value for use in job.sheet_uses]
    texts |= {f"{cost:.4f}" for cost in unit_costs}
    return texts


def test_nothing_of_hers_is_in_the_file(client, worked):
    workshop, pk = worked
    response = client.get(address(workshop, pk, "?quantity=60", "for_customer_pdf"))
    assert response["Content-Type"] == "application/pdf"
    found = everything_in(response.content)
    assert "10.55" in found
    assert "Patterned card" in found
    for figure in own_figures(workshop, 60):
        assert figure not in found, figure
    for word in ("wage", "overhead", "margin", "floor", "profit", "cost", "fee", "Pellowby"):
        assert not re.search(rf"\b{word}", found, re.IGNORECASE), word


def test_the_figures_that_must_not_be_there_are_on_the_cost_page(client, worked):
    """The list above is no list of nothing: her own page has most of it."""
    workshop, pk = worked
    page = client.get(reverse("pricing:cost", args=[workshop.slug, pk]) + "?quantity=60")
    text = page.content.decode()
    assert sum(figure in text for figure in own_figures(workshop, 60)) >= 8


def test_the_file_is_tagged_and_brings_its_fonts(client, worked):
    workshop, pk = worked
    content = client.get(address(workshop, pk, "?quantity=60", "for_customer_pdf")).content
    with pikepdf.open(io.BytesIO(content)) as pdf:
        assert pdf.Root.MarkInfo.Marked
        assert str(pdf.Root.Lang).startswith("en")
        fonts = [
            entry
            for entry in pdf.objects
            if isinstance(entry, pikepdf.Dictionary) and entry.get("/Type") == "/FontDescriptor"
        ]
        assert fonts
        assert all(set(font.keys()) & {"/FontFile", "/FontFile2", "/FontFile3"} for font in fonts)


def test_only_what_is_ticked_is_told(client, worked):
    workshop, pk = worked
    query = "?quantity=60&ticked=1&show=materials"
    response = client.get(address(workshop, pk, query))
    assert set(response.context["told"]) == {
        "price_each", "total", "quantity", "materials", "parts",
    }  # fmt: skip
    pdf = client.get(address(workshop, pk, query, "for_customer_pdf")).content
    with pdfplumber.open(io.BytesIO(pdf)) as opened:
        text = "".join(page.extract_text() for page in opened.pages)
    assert "Patterned card" in text
    assert "Minutes" not in text
    nothing = client.get(address(workshop, pk, "?quantity=60&ticked=1"))
    assert set(nothing.context["told"]) == {"price_each", "total", "quantity"}


def test_a_price_she_names_is_the_one_explained(client, workshop):
    make_channel(workshop)
    pk = make_recipe(workshop).design_id
    response = client.get(address(workshop, pk, "?quantity=9&asked_price=6.10"))
    assert response.context["told"]["price_each"] == "€6.10"
    assert response.context["told"]["total"] == "€54.90"


def test_tax_is_told_as_it_is_treated(client, workshop):
    make_channel(workshop)
    pk = make_recipe(workshop).design_id
    assert client.get(address(workshop, pk)).context["told"]["tax"] == "No VAT is charged."
    workshop.tax_registered, workshop.tax_rate = True, D("0.2")
    workshop.save()
    said = client.get(address(workshop, pk, "?quantity=9&asked_price=6.00")).context["told"]["tax"]
    # 54.00 / 6
    assert said == "Included: 20% VAT, €9.00 of the total."


@pytest.mark.parametrize(
    "query",
    ["quantity=x", "asked_price=-1", "asked_price=nan", "show=wage&ticked=1", "quantity=0"],
)
def test_what_cannot_be_read_is_explained_and_not_printed(client, workshop, query):
    make_channel(workshop)
    pk = make_recipe(workshop).design_id
    response = client.get(address(workshop, pk, f"?{query}"))
    assert response.context["told"] is None
    assert "There is a problem" in response.content.decode()
    assert client.get(address(workshop, pk, f"?{query}", "for_customer_pdf")).status_code == 302


def test_hostile_names_stay_text(client, workshop):
    make_channel(workshop)
    version = make_recipe(workshop)
    bad = "<script>alert(1)</script><img src=file:///etc/hosts>"
    workshop.materials.update(name=bad)
    version.design.name = bad
    version.design.save()
    page = client.get(address(workshop, version.design_id)).content.decode()
    assert "<script>alert" not in page
    pdf = client.get(address(workshop, version.design_id, "", "for_customer_pdf"))
    assert pdf["Content-Type"] == "application/pdf"


def test_readers_look_and_strangers_do_not(
    reader_client, anonymous_client, stranger_client, workshop
):
    pk = make_recipe(workshop).design_id
    for name in ("for_customer", "for_customer_pdf"):
        page = address(workshop, pk, "", name)
        assert reader_client.get(page).status_code == 200
        assert anonymous_client.get(page).status_code == 302
        assert stranger_client.get(page).status_code == 404


def test_a_quotes_line_leads_to_it_with_its_own_price(client, owner, workshop):
    channel = make_channel(workshop)
    version = make_recipe(workshop)
    quote = make_quote(workshop, channel=channel)
    make_line(quote, version, 9, price_asked=D("7.25"))
    page = reverse("pricing:quote", args=[workshop.slug, quote.pk])
    for _ in range(2):
        found = client.get(page).content.decode()
        (to,) = re.findall(r'href="([^"]*/for-customers/[^"]*)"', found)
        told = client.get(to.replace("&amp;", "&")).context["told"]
        assert (told["price_each"], told["quantity"]) == ("€7.25", "9")
        if quote.sent_on is None:
            quote = sent_quote(quote, owner)


def test_more_materials_take_no_more_queries(client, workshop, count_queries):
    make_channel(workshop)
    version = make_recipe(workshop)
    page = address(workshop, version.design_id, "?quantity=9")
    client.get(page)
    with count_queries() as few:
        client.get(page)
    for number in range(6):
        version.steps.create(name=f"fold {number}", minutes=D(1))
    client.get(page)
    with count_queries() as many:
        client.get(page)
    assert len(many) == len(few)
