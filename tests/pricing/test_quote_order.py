"""A quote's lines are one order, on its pages, papers and in what it keeps."""

import json
from decimal import Decimal

import pytest
from django.urls import reverse

from catalogue.recipes.models import Option, OptionChoice, Step
from pricing.channels.models import ChannelTier
from pricing.price_history.quoted import change_between, lines_of
from pricing.price_review.review import review_prices
from pricing.quotes.documents import document_of
from pricing.quotes.inputs import work_out
from pricing.quotes.models import Quote
from pricing.quotes.printing import customer_pdf, own_pdf
from pricing.quotes.sending import revise_quote
from tests.factories import make_channel, make_material, make_pack, make_recipe, today
from tests.pricing.quotes import make_line, make_quote, sent_quote
from tests.pricing.test_quote_pdf import text_of

pytestmark = pytest.mark.django_db
D = Decimal


def address(workshop, name, *args):
    return reverse(f"pricing:{name}", args=[workshop.slug, *args])


def loaded(quote):
    return Quote.objects.with_people().get(pk=quote.pk)


def quote_of(workshop, version, *quantities, **fields):
    quote = make_quote(workshop, channel=make_channel(workshop), **fields)
    for quantity in quantities:
        make_line(quote, version, quantity)
    return quote


def recipe_with_setup(workshop):
    """A recipe whose job takes more than its items: set-up, and glue mixed for thirty."""
    version = make_recipe(workshop)
    Step.objects.create(version=version, name="set up", basis="job", minutes=D(45))
    Step.objects.create(version=version, name="mix glue", basis="batch", per=30, minutes=D(8))
    return version


def total(quote):
    return work_out(loaded(quote)).price.total


def test_a_hundred_and_twenty_cost_the_same_however_they_are_split(workshop):
    version = recipe_with_setup(workshop)
    whole = total(quote_of(workshop, version, 120))
    assert total(quote_of(workshop, version, 60, 60)) == whole
    assert total(quote_of(workshop, version, *[20] * 6)) == whole
    assert total(quote_of(workshop, version, 1, 119)) == whole


def test_lines_of_two_versions_are_two_groups(workshop):
    first = recipe_with_setup(workshop)
    quote = quote_of(workshop, first, 10, 10)
    price = work_out(loaded(quote)).price
    assert [line.cost.group_quantity for line in price.lines] == [20, 20]
    make_line(quote, recipe_with_setup(workshop), 5)
    price = work_out(loaded(quote)).price
    assert [line.cost.group_quantity for line in price.lines] == [20, 20, 5]
    assert len(price.order.groups) == 2


def test_more_lines_cost_no_more_queries(workshop, count_queries):
    version = make_recipe(workshop)
    few, many = quote_of(workshop, version, 5), quote_of(workshop, version, *range(5, 20))
    with count_queries() as small:
        work_out(loaded(few))
    with count_queries() as large:
        work_out(loaded(many))
    assert len(large) == len(small)


def test_page_and_papers_say_the_same_and_the_tree_has_the_order_first(client, workshop):
    quote = quote_of(workshop, recipe_with_setup(workshop), 7, 12)
    worked = work_out(loaded(quote))
    document = document_of(worked, today())
    page = client.get(address(workshop, "quote", quote.pk)).content.decode()
    for line in document["public"]["lines"]:
        amount = f"{D(line['amount']):.2f}"
        assert amount in page
        assert amount in text_of(customer_pdf({**document, "state": "draft", "replaced_by": None}))
        assert amount in text_of(own_pdf({**document, "state": "draft", "replaced_by": None}))
    assert page.index("Cost of the order") < page.index("its share of the cost")
    shares = sum(D(line["cost"]) for line in document["own"]["lines"])
    assert abs(shares - D(document["own"]["cost"])) < D("1e-20")


def test_the_form_of_a_line_prices_it_as_a_part_of_the_order(client, workshop):
    version = recipe_with_setup(workshop)
    quote = quote_of(workshop, version, 60)
    row = make_line(quote, version, 60)
    page = client.get(address(workshop, "quote_line", quote.pk, row.pk))
    priced = page.context["priced"]
    assert priced.cost.group_quantity == 120
    alone = work_out(loaded(quote_of(workshop, version, 60))).price.lines[0]
    assert priced.cost.cost < alone.cost.cost
    new = client.post(
        address(workshop, "quote_line_price", quote.pk),
        {"design": version.design_id, "version": version.pk, "quantity": "30"},
    )
    assert new.context["priced"].cost.group_quantity == 150


def test_a_sent_quote_keeps_its_shares_and_is_not_off_the_same_day(workshop, owner):
    quote = quote_of(workshop, make_recipe(workshop), 30, 40)
    sent = sent_quote(quote, owner)
    lines = sent.frozen["basis"]["lines"]
    assert [(line["alike"], line["ordered"]) for line in lines] == [(70, 70), (70, 70)]
    assert review_prices(workshop=workshop, on=today()).quotes == ()
    said = json.dumps(sent.frozen["public"], sort_keys=True)
    revision = revise_quote(quote=sent, today=today())
    make_line(revision, revision.lines.first().version, 30)
    change = change_between(lines_of(loaded(sent), today()), lines_of(loaded(revision), today()))
    assert change.is_kept
    assert all(line.history is not None for line in change.lines)
    before, after = D(sent.frozen["public"]["total"]), total(revision)
    assert sum(step.change for step in change.total.steps) == after - before
    assert json.dumps(loaded(sent).frozen["public"], sort_keys=True) == said


def test_a_draft_says_that_its_total_moved_with_old_and_new(client, workshop):
    card = make_material(workshop, name="card for boxes")
    make_pack(card, quantity=10, price=D(5))
    version = make_recipe(workshop)
    quote = quote_of(workshop, version, 9)
    where = address(workshop, "quote", quote.pk)
    assert "Total has changed" not in client.get(where).content.decode()
    before = loaded(quote).seen_total
    assert before == total(quote)
    workshop.wage_per_hour += 6
    workshop.save()
    for _ in range(2):
        page = client.get(where).content.decode()
        assert "Total has changed" in page
        assert f"{before:.2f}" in page
        assert f"{total(quote):.2f}" in page
    assert (
        "Total has changed"
        in client.get(address(workshop, "quote_send", quote.pk)).content.decode()
    )
    client.post(address(workshop, "quote_seen", quote.pk))
    assert "Total has changed" not in client.get(where).content.decode()
    # her own change is no news to her
    make_line(quote, version, 3)
    assert "Total has changed" not in client.get(where).content.decode()


def test_a_draft_of_before_says_that_lines_are_one_order_now(client, workshop):
    quote = quote_of(workshop, make_recipe(workshop), 9, 9)
    Quote.objects.filter(pk=quote.pk).update(seen_edit=loaded(quote).edit_number)
    page = client.get(address(workshop, "quote", quote.pk)).content.decode()
    assert "now share sheets" in page


def test_a_viewer_changes_nothing_by_looking(reader_client, workshop):
    quote = quote_of(workshop, make_recipe(workshop), 9)
    assert reader_client.get(address(workshop, "quote", quote.pk)).status_code == 200
    assert loaded(quote).seen_edit is None
    assert reader_client.post(address(workshop, "quote_seen", quote.pk)).status_code == 403


def named_recipe(workshop):
    """A recipe whose names are written where the option says so."""
    version = make_recipe(workshop)
    option = Option.objects.create(version=version, key="name", name="Name")
    _, yes = (
        OptionChoice.objects.create(
            option=option, key=key, name=name, is_default=key == "no", position=place
        )
        for place, (key, name) in enumerate([("no", "no name"), ("yes", "lettered")])
    )
    Step.objects.create(version=version, name="letter", basis="name", minutes=D(2), only_with=yes)
    return version


@pytest.mark.parametrize(
    ("choice", "names", "said"),
    [
        ("yes", 58, "58 names for 60 items. 2 are missing."),
        ("yes", 0, "The price includes 60 names. None entered yet."),
        ("yes", 60, ""),
        ("no", 0, ""),
        ("no", 3, "3 names entered, but “Name: no name” is chosen"),
    ],
)
def test_names_that_do_not_go_with_a_line_are_said_before_it_is_sent(
    client, workshop, choice, names, said
):
    version = named_recipe(workshop)
    typed = "\n".join(f"Name {number}" for number in range(names))
    quote = make_quote(workshop)
    row = make_line(quote, version, 60, choices={"name": choice}, names=typed)
    for page in (
        client.get(address(workshop, "quote", quote.pk)),
        client.get(address(workshop, "quote_send", quote.pk)),
        client.get(address(workshop, "quote_line", quote.pk, row.pk)),
    ):
        if said:
            assert said in page.content.decode()
        else:
            assert not page.context.get("notes")
            assert not page.context.get("names_note")


def test_names_the_recipe_has_nothing_for_are_said(client, workshop):
    quote = make_quote(workshop)
    make_line(quote, make_recipe(workshop), 60, names="Ada")
    page = client.get(address(workshop, "quote", quote.pk)).content.decode()
    assert "1 name entered, but nothing in the recipe is counted per name" in page


def test_a_caution_is_printed_once_and_only_where_it_is_brought_in(client, workshop):
    version = named_recipe(workshop)
    version.design.caution = "Paper burns: never with a flame."
    version.design.save()
    OptionChoice.objects.filter(key="yes").update(caution="Ink may stain.")
    quote = make_quote(workshop)
    for choice in ("no", "yes", "yes"):
        make_line(quote, version, 5, choices={"name": choice})
    document = document_of(work_out(loaded(quote)), today())
    paper = text_of(customer_pdf({**document, "state": "draft", "replaced_by": None}))
    page = client.get(address(workshop, "quote", quote.pk)).content.decode()
    for text in (paper, page):
        assert text.count("Paper burns") == 1
        assert text.count("Ink may stain.") == 1
    plain = make_quote(workshop)
    make_line(plain, version, 5, choices={"name": "no"})
    document = document_of(work_out(loaded(plain)), today())
    assert "Ink" not in text_of(customer_pdf({**document, "state": "draft", "replaced_by": None}))


def test_more_that_cost_less_in_all_are_told(client, workshop):
    channel = make_channel(workshop)
    ChannelTier.objects.create(channel=channel, bought_at_once=20, margin=D("0.1"))
    quote = make_quote(workshop, channel=channel)
    version = make_recipe(workshop)
    for quantity in (10, 9):
        make_line(quote, version, quantity)
    page = client.get(address(workshop, "quote", quote.pk)).content.decode()
    assert "cost less in total than 19" in page
