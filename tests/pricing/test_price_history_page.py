"""Why a price changed, as pages: steps that add up, kept prices, two quotes of one customer."""

import json
from decimal import Decimal
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse

from catalogue.designs.models import Design
from catalogue.materials.models import Material, Pack
from catalogue.recipes.models import DesignVersion
from maker.calc.explanation import Line
from pricing.calc.changes.history import History, PriceStep
from pricing.calc.changes.history_words import causes_for_a_customer
from pricing.calc.costing.rates import Ask
from pricing.channels.models import Channel
from pricing.prices.models import PriceListEntry
from pricing.prices.services import set_price
from pricing.quotes.models import Quote
from pricing.workshop_file.services import import_workshop
from tests.factories import make_channel, make_design, make_recipe
from tests.pricing.quotes import make_customer, make_line, make_quote, sent_quote

WORKED_CASE = Path(settings.BASE_DIR) / "fixtures" / "worked_case.json"
D = Decimal


def address(workshop, pk, query=""):
    return reverse("pricing:design_history", args=[workshop.slug, pk]) + query


def quote_address(workshop, pk, query=""):
    return reverse("pricing:quote_history", args=[workshop.slug, pk]) + query


@pytest.fixture
def version(workshop):
    make_channel(workshop, name="Fair")
    return make_recipe(workshop)


def price_kept(workshop, version, owner, quantity=9, price="4.70"):
    version = DesignVersion.objects.with_recipe().get(pk=version.pk)
    return set_price(
        version=version,
        workshop=workshop,
        channel=Channel.objects.with_tiers().get(workshop=workshop),
        ask=Ask(quantity, bought_at_once=1),
        price=D(price),
        colourway=None,
        by=owner,
    )


def changes(response):
    return {step.key: step.change for step in response.context["found"].price.steps}


def test_a_dearer_sheet_and_wage_are_told_apart_and_add_up(client, owner, workshop, version):
    # nine from one sheet of 0.50, 10 min each at 19.20 an hour: (28.80 + 0.50) / 0.7 / 9 = 4.6508
    entry = price_kept(workshop, version, owner)
    Pack.objects.of(workshop).update(price=D(12))  # a sheet of 1.20
    workshop.wage_per_hour = D(16)
    workshop.save()
    response = client.get(address(workshop, version.design_id, f"?from={entry.pk}"))
    found = response.context["found"]
    # by hand: 0.70 / 9 / 0.7 = 0.1111; 90 min x 1 / 60 / 9 / 0.7 = 0.2381; exact 5.0000
    assert found.price.old == D("4.70")
    assert found.price.new == D("5.00")
    named = changes(response)
    (material,) = [key for key in named if key.startswith("price.")]
    assert named == {material: D("0.11"), "wage": D("0.24"), "rounding": D("-0.05")}
    page = response.content.decode()
    for said in ("+€0.11", "+€0.24", "−€0.05", "+€0.30", "Hourly wage"):
        assert said in page
    for view in (response.context["price"], *(view for _, _, view in response.context["others"])):
        assert view["left"] in ("€0.00", "€0.0000")


def test_what_she_may_say_to_a_customer_names_no_wage(client, owner, workshop, version):
    # a name of its own: a card with a number might have that of a wage
    Material.objects.of(workshop).filter(kind="sheet").update(name="Card of meadows")
    entry = price_kept(workshop, version, owner)
    Pack.objects.of(workshop).update(price=D(12))
    workshop.wage_per_hour = D(16)
    workshop.save()
    response = client.get(address(workshop, version.design_id, f"?from={entry.pk}"))
    said = " ".join(response.context["said"])
    assert "€4.70 to €5.00" in said
    assert "€0.11 more because paper and other materials cost more (Card of meadows" in said
    assert "€0.24 more because running the workshop costs more" in said
    for own in ("wage", "margin", "fee", "15", "16", "overhead"):
        assert own not in said.casefold()


def test_groups_for_a_customer_add_up_to_the_change():
    steps = [
        ("price.1", "price of Card", "0.10"), ("use.sheet.1", "use of Card", "-0.02"),
        ("minutes", "minutes", "0.30"), ("wage", "wage", "0.05"), ("fees+margin", "x", "0.07"),
        ("rounding", "rounding", "-0.05"), ("tax", "tax", "0.20"),
    ]  # fmt: skip
    made = tuple(PriceStep(key, label, "", D(change), D(change)) for key, label, change in steps)
    history = History(D(1), D("1.65"), made, Line("x", D(0)))
    causes = causes_for_a_customer(history)
    assert sum(cause.change for cause in causes) == history.change
    by_key = {cause.key: cause.change for cause in causes}
    assert (by_key["rest"], by_key["set"]) == (D("0.12"), D("-0.05"))
    assert causes[0].named == ("Card",)


def test_what_one_buyer_takes_is_a_number_not_the_running_of_the_workshop():
    made = (PriceStep("buyers", "bought at once", "", D("0.40"), D("1.40")),)
    (cause,) = causes_for_a_customer(History(D(1), D("1.40"), made, Line("x", D(0))))
    assert (cause.key, cause.change) == ("quantity", D("0.40"))
    assert cause.words == "a smaller number costs more each"


def test_two_quantities_of_the_worked_case(client, owner):
    workshop = import_workshop(json.loads(WORKED_CASE.read_text(encoding="utf-8")), owner=owner)
    pk = Design.objects.of(workshop).get().pk
    response = client.get(address(workshop, pk, "?from=today&was_quantity=12&quantity=60"))
    found = response.context["found"]
    # figures p.unit of the worked case for 12 and 60
    assert (found.price.old, found.price.new) == (D("14.45"), D("10.55"))
    assert sum(changes(response).values()) == D("-3.90")
    # p.gross of both: 12 x 14.45 and 60 x 10.55
    assert (found.total.old, found.total.new) == (D("173.40"), D("633.00"))
    assert "a larger number costs less each" in response.content.decode()


def test_two_versions_and_a_colourless_choice_of_the_address(client, workshop, version):
    newer = DesignVersion.objects.create(design=version.design, number=2)
    for row in version.roles.all():
        row.pk, row.version = None, newer
        row.save()
    piece = version.pieces.get()
    piece.pk, piece.version, piece.role = None, newer, newer.roles.get()
    piece.save()
    newer.steps.create(name="fold and glue", minutes=D(13))
    response = client.get(
        address(workshop, version.design_id, "?from=today&was_version=1&version=2&quantity=9")
    )
    # 3 min x 0.32 / 0.7 = 1.3714
    assert changes(response)["minutes"] == D("1.37")


def test_nothing_changed_says_so(client, workshop, version):
    response = client.get(address(workshop, version.design_id, "?from=today&quantity=9"))
    assert "Nothing has changed" in response.content.decode()


def test_replaced_prices_can_be_chosen_and_old_ones_without_a_basis_say_so(
    client, owner, workshop, version
):
    first = price_kept(workshop, version, owner)
    price_kept(workshop, version, owner, price="4.90")
    page = client.get(address(workshop, version.design_id)).content.decode()
    assert "since replaced" in page
    PriceListEntry.objects.filter(pk=first.pk).update(basis=None)
    response = client.get(address(workshop, version.design_id, f"?from={first.pk}"))
    assert "found" not in response.context
    assert "no cost on record" in response.content.decode()


@pytest.mark.parametrize(
    "query",
    [
        "from=999999", "from=x", "to=%00", "quantity=x&from=today", "was_quantity=0&from=today",
        "channel=9&from=today", "version=7&from=today", "was_version=²&from=today",
        "quantity=99999999999&from=today", "option_x=1&from=today&was_delivery=-3",
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_explained_and_breaks_nothing(client, workshop, version, query):
    response = client.get(address(workshop, version.design_id, f"?{query}"))
    assert response.status_code == 200
    readable = query.startswith(("channel", "version", "was_version", "option_x")) or "to=" in query
    if not readable:
        assert "There is a problem" in response.content.decode()


def test_prices_of_another_workshop_are_no_choice(client, owner, workshop, version, other_workshop):
    make_channel(other_workshop)
    theirs = price_kept(other_workshop, make_recipe(other_workshop), owner)
    response = client.get(address(workshop, version.design_id, f"?from={theirs.pk}"))
    assert "found" not in response.context


def test_a_design_without_a_recipe_is_not_there(client, workshop):
    assert client.get(address(workshop, make_design(workshop).pk)).status_code == 404


def test_readers_look_and_strangers_do_not(
    reader_client, anonymous_client, stranger_client, workshop, version
):
    page = address(workshop, version.design_id)
    assert reader_client.get(page).status_code == 200
    assert anonymous_client.get(page).status_code == 302
    assert stranger_client.get(page).status_code == 404


def test_more_prices_take_no_more_queries(client, owner, workshop, version, count_queries):
    price_kept(workshop, version, owner)
    client.get(address(workshop, version.design_id))
    with count_queries() as few:
        client.get(address(workshop, version.design_id))
    for number in range(12):
        price_kept(workshop, version, owner, price=f"5.{number:02}")
    with count_queries() as many:
        client.get(address(workshop, version.design_id))
    assert len(many) == len(few)


def test_links_lead_to_it(client, owner, workshop, version):
    entry = price_kept(workshop, version, owner)
    page = client.get(reverse("pricing:price_list", args=[workshop.slug])).content.decode()
    assert f"{address(workshop, version.design_id)}?from={entry.pk}" in page
    cost = client.get(reverse("pricing:cost", args=[workshop.slug, version.design_id]))
    assert address(workshop, version.design_id) in cost.content.decode()


# --- two quotes ---


@pytest.fixture
def quoted(workshop, owner, version):
    """Two quotes of one customer: nine, then twelve at a dearer sheet, with delivery and a tag."""
    customer, channel = make_customer(workshop), Channel.objects.get(workshop=workshop)
    first = make_quote(workshop, customer=customer, channel=channel)
    make_line(first, version, 9)
    first = sent_quote(first, owner)
    Pack.objects.of(workshop).update(price=D(12))
    second = make_quote(workshop, customer=customer, channel=channel)
    Quote.objects.filter(pk=second.pk).update(delivery=D(5))
    make_line(second, version, 12)
    make_line(second, make_recipe(workshop), 3)
    return first, sent_quote(second, owner)


def test_two_quotes_add_up_line_by_line(client, workshop, quoted):
    first, second = quoted
    response = client.get(quote_address(workshop, first.pk, f"?to={second.pk}"))
    change = response.context["change"]
    assert change.total.old == first.total
    assert change.total.new == second.total
    assert sum(step.change for step in change.total.steps) == second.total - first.total
    assert {step.key.split(".")[0] for step in change.total.steps} == {"line", "added", "delivery"}
    (line,) = change.lines
    assert line.quantities == (9, 12)
    assert any(step.key.startswith("price.") for step in line.history.steps)
    page = response.content.decode()
    assert "added" in page
    assert response.context["total"]["left"] == "€0.00"


def test_the_later_quote_is_told_from_the_earlier_one_too(client, workshop, quoted):
    first, second = quoted
    for page in (quote_address(workshop, second.pk), quote_address(workshop, first.pk)):
        change = client.get(page).context["change"]
        assert (change.total.old, change.total.new) == (first.total, second.total)


def test_an_older_quote_without_kept_lines_says_so_and_still_adds_up(client, workshop, quoted):
    first, second = quoted
    del first.frozen["basis"]["lines"]
    first.save()
    response = client.get(quote_address(workshop, first.pk, f"?to={second.pk}"))
    assert "too old to have" in response.content.decode()
    assert response.context["total"]["left"] == "€0.00"


def test_a_draft_is_worked_out_as_of_today(client, workshop, quoted, version):
    first, _ = quoted
    draft = make_quote(workshop, customer=first.customer)
    make_line(draft, version, 9)
    response = client.get(quote_address(workshop, first.pk, f"?to={draft.pk}"))
    assert response.context["change"].lines[0].history is not None


def test_only_quotes_of_the_customer_with_the_design_can_be_chosen(
    client, workshop, owner, quoted, version
):
    first, _ = quoted
    other = make_quote(workshop)
    make_line(other, version, 9)
    assert client.get(quote_address(workshop, first.pk, f"?to={other.pk}")).status_code == 404
    alone = client.get(quote_address(workshop, other.pk))
    assert "no other quote" in alone.content.decode()


def test_quotes_keep_strangers_out(
    anonymous_client, stranger_client, reader_client, workshop, quoted
):
    page = quote_address(workshop, quoted[0].pk)
    assert anonymous_client.get(page).status_code == 302
    assert stranger_client.get(page).status_code == 404
    assert reader_client.get(page).status_code == 200


def test_more_quotes_take_no_more_queries(client, workshop, quoted, version, count_queries):
    first, second = quoted
    page = quote_address(workshop, first.pk, f"?to={second.pk}")
    client.get(page)
    with count_queries() as few:
        client.get(page)
    for _ in range(6):
        make_line(make_quote(workshop, customer=first.customer), version, 3)
    with count_queries() as many:
        client.get(page)
    assert len(many) == len(few)


def test_a_quote_leads_to_it(client, workshop, quoted):
    first, _ = quoted
    page = client.get(reverse("pricing:quote", args=[workshop.slug, first.pk])).content.decode()
    assert quote_address(workshop, first.pk) in page


def test_a_picture_that_does_not_begin_at_zero_says_so(client, owner, workshop, version):
    entry = price_kept(workshop, version, owner)
    here = address(workshop, version.design_id, f"?from={entry.pk}")
    workshop.wage_per_hour = D("15.50")
    workshop.save()
    assert "The scale starts at €" in client.get(here).content.decode()
    workshop.wage_per_hour = D(45)
    workshop.save()
    page = client.get(here).content.decode()
    assert "Hatched: more" in page
    assert "The scale starts" not in page
