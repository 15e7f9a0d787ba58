"""Pages of the quotes: from the first question to the answer, and who may do what."""

import datetime
import re
from decimal import Decimal

import pytest
from django.urls import reverse

from pricing.customers.models import Customer
from pricing.quotes.models import Quote
from tests.factories import make_channel, make_design, make_recipe, today
from tests.pricing.quotes import make_customer, make_line, make_quote, sent_quote

PAGES = (
    *("quote_list", "quote_new", "quote", "quote_edit", "quote_send", "quote_accept"),
    *("quote_decline", "quote_line_new", "quote_line", "customer", "customer_edit"),
)


def address(workshop, name, *args):
    return reverse(f"pricing:{name}", args=[workshop.slug, *args])


@pytest.fixture
def quote(workshop):
    """A draft with nine of a design: one sheet of 0.50 and 90 minutes, 4.70 each at 30%."""
    made = make_quote(workshop)
    make_line(made, make_recipe(workshop), 9)
    return made


def line_entry(version, /, **changed):
    return {
        "design": version.design_id,
        "version": version.pk,
        "edit_number": 0,
        "quantity": "9",
        **changed,
    }


def test_a_quote_from_the_first_question_to_the_yes(client, workshop):
    version = make_recipe(workshop)
    channel = make_channel(workshop, name="To order")
    page = client.get(address(workshop, "quote_new"))
    key = page.context["form"]["form_key"].value()
    response = client.post(
        address(workshop, "quote_new"),
        {"new_name": "Ada Fenn", "title": "Wedding", "channel": channel.pk, "form_key": key},
    )
    quote = Quote.objects.get()
    assert response.url == address(workshop, "quote_line_new", quote.pk)
    assert (quote.customer.name, quote.channel) == ("Ada Fenn", channel)
    page = client.get(f"{response.url}?design={version.design_id}").content.decode()
    assert "Quantity" in page
    response = client.post(response.url, line_entry(version))
    assert response.url == address(workshop, "quote", quote.pk)
    page = client.get(response.url).content.decode()
    # worked by hand on the cost page: 29.30 / 9 / 0.7 = 4.6508 -> 4.70; 9 x 4.70
    assert "€4.70" in page
    assert "€42.30" in page
    client.post(address(workshop, "quote_send", quote.pk))
    quote.refresh_from_db()
    assert (quote.state, quote.number) == ("sent", f"Q-{today().year}-0001")
    client.post(
        address(workshop, "quote_accept", quote.pk),
        {"decided_by": "Ada Fenn", "decided_on": today().isoformat()},
    )
    quote.refresh_from_db()
    assert (quote.state, quote.decided_by) == ("accepted", "Ada Fenn")
    page = client.get(address(workshop, "quote", quote.pk)).content.decode()
    assert "Accepted by" in page


def test_her_own_figures_stand_on_the_page(client, workshop, quote):
    page = client.get(address(workshop, "quote", quote.pk)).content.decode()
    assert "You earn per hour" in page
    assert "Lowest price" in page
    # (42.30 - 29.30 + 22.50) / 1.5 h = 23.67
    assert "€23.67" in page


@pytest.mark.parametrize("name", PAGES)
def test_strangers_and_nobody_get_nowhere(stranger_client, anonymous_client, workshop, quote, name):
    args = {"quote_list": [], "quote_new": [], "quote_line": [quote.pk, quote.lines.get().pk]}
    customer = [quote.customer_id] if name.startswith("customer") else [quote.pk]
    where = address(workshop, name, *args.get(name, customer))
    assert stranger_client.get(where).status_code == 404
    assert anonymous_client.get(where).status_code == 302
    assert stranger_client.post(where, {}).status_code in (404, 405)


POSTS = (
    *("quote_new", "quote_edit", "quote_send", "quote_revise", "quote_accept", "quote_decline"),
    *("quote_reopen", "quote_discard", "quote_restore", "quote_line_new", "quote_totals"),
    *("quote_line_price", "quote_line_steps"),
)


@pytest.mark.parametrize("name", POSTS)
def test_a_reader_looks_and_changes_nothing(reader_client, workshop, quote, name):
    args = [] if name == "quote_new" else [quote.pk]
    assert reader_client.post(address(workshop, name, *args)).status_code == 403
    assert reader_client.get(address(workshop, "quote", quote.pk)).status_code == 200
    quote.refresh_from_db()
    assert quote.state == "draft"


@pytest.mark.parametrize("name", ["quote_line_remove", "quote_line_put_back", "quote_line_move"])
def test_a_reader_leaves_lines_alone(reader_client, workshop, quote, name):
    line = quote.lines.get()
    assert reader_client.post(address(workshop, name, quote.pk, line.pk)).status_code == 403


def test_a_reader_sees_no_buttons(reader_client, workshop, quote):
    page = reader_client.get(address(workshop, "quote", quote.pk)).content.decode()
    assert "Add a line" not in page
    assert address(workshop, "quote_send", quote.pk) not in page


def test_a_new_quote_begins_with_what_it_is_asked_for(client, workshop):
    version = make_recipe(workshop)
    where = address(workshop, "quote_new")
    page = client.get(f"{where}?design={version.design_id}&quantity=120")
    form = page.context["form"]
    assert (form["design"].value(), form["quantity"].value()) == (version.design_id, 120)
    entry = {"new_name": "Ada Fenn", "design": version.design_id, "quantity": "120"}
    needed = today() + datetime.timedelta(days=30)
    response = client.post(where, {**entry, "needed_on": needed.isoformat()})
    quote = Quote.objects.get()
    assert quote.needed_on == needed
    line = address(workshop, "quote_line_new", quote.pk)
    assert response.url == f"{line}?design={version.design_id}&quantity=120"
    assert 'value="120"' in client.get(response.url).content.decode()


@pytest.mark.parametrize(
    ("typed", "where"),
    [
        ({"quantity": "120"}, "design"),
        ({"quantity": "0"}, "quantity"),
        ({"quantity": "a dozen"}, "quantity"),
        ({"needed_on": "soon"}, "needed_on"),
        ({"design": "99999"}, "design"),
    ],
)
def test_what_is_wrong_with_a_first_line_starts_no_quote(client, workshop, typed, where):
    make_recipe(workshop)
    response = client.post(address(workshop, "quote_new"), {"new_name": "Ada Fenn", **typed})
    assert response.status_code == 422
    assert list(response.context["form"].errors) == [where]
    assert not Quote.objects.exists()
    assert not Customer.objects.exists()


@pytest.mark.parametrize("name", ["quote_revise", "quote_reopen", "quote_discard", "quote_totals"])
def test_a_get_changes_nothing(client, workshop, quote, name):
    assert client.get(address(workshop, name, quote.pk)).status_code == 405


def test_rows_of_another_workshop_cannot_be_chosen(client, workshop, other_workshop, quote):
    customer = make_customer(other_workshop, name="Foreign")
    channel = make_channel(other_workshop)
    response = client.post(
        address(workshop, "quote_new"), {"customer": customer.pk, "channel": channel.pk}
    )
    assert response.status_code == 422
    assert Quote.objects.count() == 1
    entry = {
        "edit_number": 0,
        "customer": customer.pk,
        "channel": channel.pk,
        "valid_until": today().isoformat(),
    }
    response = client.post(address(workshop, "quote_edit", quote.pk), entry)
    assert response.status_code == 422
    assert {"customer", "channel"} <= set(response.context["form"].errors)


def test_a_foreign_design_or_line_is_not_found(client, workshop, other_workshop, quote):
    foreign = make_recipe(other_workshop)
    where = address(workshop, "quote_line_new", quote.pk)
    assert client.post(where, line_entry(foreign)).status_code == 404
    assert client.get(f"{where}?design={foreign.design_id}").status_code == 422
    other = make_quote(other_workshop)
    line = make_line(other, foreign, 3)
    assert client.get(address(workshop, "quote_line", quote.pk, line.pk)).status_code == 404
    assert client.post(address(workshop, "quote_line_remove", quote.pk, line.pk)).status_code == 404
    # a version of another design of hers is no choice either
    mine = make_recipe(workshop)
    entry = line_entry(mine, version=quote.lines.get().version_id)
    assert client.post(where, entry).status_code == 404


def test_a_line_of_another_quote_is_not_found(client, workshop, quote):
    other = make_quote(workshop)
    line = make_line(other, make_recipe(workshop), 3)
    assert client.get(address(workshop, "quote_line", quote.pk, line.pk)).status_code == 404


def test_a_second_click_starts_one_quote(client, workshop):
    page = client.get(address(workshop, "quote_new"))
    entry = {"new_name": "Ada Fenn", "form_key": page.context["form"]["form_key"].value()}
    client.post(address(workshop, "quote_new"), entry)
    response = client.post(address(workshop, "quote_new"), entry, follow=True)
    assert Quote.objects.count() == Customer.objects.count() == 1
    assert "already" in response.content.decode()


def test_a_second_click_adds_one_line(client, workshop, quote):
    version = make_recipe(workshop)
    where = address(workshop, "quote_line_new", quote.pk)
    quote.refresh_from_db()
    entry = line_entry(version, edit_number=quote.edit_number)
    assert client.post(where, entry).status_code == 302
    response = client.post(where, entry)
    assert response.status_code == 422
    assert "Somebody else saved this" in response.content.decode()
    assert quote.lines.kept().count() == 2


def test_a_second_click_sends_once(client, workshop, quote):
    where = address(workshop, "quote_send", quote.pk)
    client.post(where)
    response = client.post(where, follow=True)
    assert "already sent" in response.content.decode()
    assert Quote.objects.get().number == f"Q-{today().year}-0001"


def test_going_back_to_the_entry_of_a_sent_quote_leads_to_the_quote(client, workshop, quote):
    line = quote.lines.get()
    client.post(address(workshop, "quote_send", quote.pk))
    for name, args in (
        ("quote_edit", [quote.pk]),
        ("quote_send", [quote.pk]),
        ("quote_line_new", [quote.pk]),
        ("quote_line", [quote.pk, line.pk]),
    ):
        response = client.get(address(workshop, name, *args))
        assert response.url == address(workshop, "quote", quote.pk)
    entry = line_entry(line.version, quantity="500")
    client.post(address(workshop, "quote_line", quote.pk, line.pk), entry)
    line.refresh_from_db()
    assert line.quantity == 9


def test_two_people_on_one_quote_see_both_entries(client, workshop, quote):
    where = address(workshop, "quote_edit", quote.pk)
    quote.refresh_from_db()
    entry = {
        "edit_number": quote.edit_number,
        "customer": quote.customer_id,
        "valid_until": today().isoformat(),
    }
    assert client.post(where, entry | {"title": "Mine"}).status_code == 302
    response = client.post(where, entry | {"title": "Yours"})
    assert response.status_code == 422
    page = response.content.decode()
    assert "Mine" in page
    assert "Yours" in page
    again = entry | {
        "title": "Yours",
        "edit_number": response.context["form"]["edit_number"].value(),
    }
    assert client.post(where, again).status_code == 302
    quote.refresh_from_db()
    assert quote.title == "Yours"


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ({"valid_until": "2020-01-01"}, "That date has passed"),
        ({"valid_until": ""}, "Enter the last date"),
        ({"valid_until": "soon"}, "a date. Enter one like 31 March 2026."),
        ({"delivery": "-3"}, "The least is 0"),
        ({"deposit_share": "101"}, "The most is 100"),
        ({"terms": "x" * 20_001}, "20000"),
        ({"customer": ""}, "Choose one"),
    ],
)
def test_wrong_entries_are_kept_and_explained(client, workshop, quote, entry, words):
    whole = {
        "edit_number": 0,
        "customer": quote.customer_id,
        "valid_until": today().isoformat(),
        **entry,
    }
    response = client.post(address(workshop, "quote_edit", quote.pk), whole)
    assert response.status_code == 422
    assert words in response.content.decode()


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        ({"quantity": "0"}, "The least is 1"),
        ({"quantity": ""}, "Fill this in"),
        ({"quantity": "1000001"}, "The most is 1000000"),
        ({"quantity": "2", "names": "Ada\nBo\nCy"}, "3 names for 2 pieces"),
        ({"price_asked": "-1"}, "The least is 0"),
        ({"names": "x" * 40_001}, "40000"),
    ],
)
def test_wrong_lines_are_kept_and_explained(client, workshop, quote, entry, words):
    quote.refresh_from_db()
    version = make_recipe(workshop)
    whole = line_entry(version, edit_number=quote.edit_number, **entry)
    response = client.post(address(workshop, "quote_line_new", quote.pk), whole)
    assert response.status_code == 422
    assert words in response.content.decode()
    assert quote.lines.count() == 1


def test_the_price_answers_while_she_types(client, workshop, quote):
    version = make_recipe(workshop)
    where = address(workshop, "quote_line_price", quote.pk)
    page = client.post(where, line_entry(version)).content.decode()
    assert "<html" not in page
    assert "€4.70" in page
    page = client.post(where, line_entry(version, price_asked="1")).content.decode()
    assert "Below the lowest price" in page
    page = client.post(where, line_entry(version, quantity="x")).content.decode()
    assert "a number. Enter one" in page
    assert quote.lines.count() == 1


def test_other_quantities_stand_beside_the_line(client, workshop, quote):
    workshop.quantity_steps = "1, 9, 18"
    workshop.save()
    version = make_recipe(workshop)
    where = address(workshop, "quote_line_steps", quote.pk)
    response = client.post(where, line_entry(version))
    assert [row["quantity"] for row in response.context["steps"]] == [1, 9, 18]
    assert [row["is_asked"] for row in response.context["steps"]] == [False, True, False]
    # the button of a quantity works as a plain form post
    where = address(workshop, "quote_line_new", quote.pk)
    response = client.post(where, line_entry(version, take="18"))
    page = response.content.decode()
    assert response.status_code == 200
    assert 'value="18"' in page
    assert response.context["priced"].price.quantity == 18
    assert quote.lines.count() == 1


def test_a_larger_quantity_that_costs_no_more_is_offered(client, workshop, quote):
    # 12 at a margin of 50 % against 13 at 10 %
    channel = make_channel(workshop, tier={"margin": Decimal("0.5"), "price_step": 0})
    channel.tiers.create(bought_at_once=13, margin=Decimal("0.1"), price_step=0)
    quote.channel = channel
    quote.save()
    # the quantity where terms change is looked at, whatever she usually compares
    workshop.quantity_steps = "1"
    workshop.save()
    where = address(workshop, "quote_line_steps", quote.pk)
    page = client.post(where, line_entry(make_recipe(workshop), quantity="12")).content.decode()
    assert "13 cost less in total than 12" in page


def test_the_totals_answer_while_she_types_and_store_nothing(client, workshop, quote):
    where = address(workshop, "quote_totals", quote.pk)
    entry = {"customer": quote.customer_id, "valid_until": today().isoformat(), "delivery": "8"}
    response = client.post(where, entry)
    # 42.30 and carriage at cost
    assert response.context["document"]["public"]["total"] == "50.30"
    quote.refresh_from_db()
    assert quote.delivery == 0


def test_lines_are_moved_taken_off_and_put_back(client, workshop, quote):
    second = make_line(quote, make_recipe(workshop), 2)
    first = quote.lines.kept().first()
    client.post(address(workshop, "quote_line_move", quote.pk, second.pk), {"to": "up"})
    assert list(quote.lines.kept()) == [second, first]
    client.post(address(workshop, "quote_line_move", quote.pk, second.pk), {"to": "up"})
    assert list(quote.lines.kept()) == [second, first]
    response = client.post(address(workshop, "quote_line_remove", quote.pk, second.pk), follow=True)
    assert list(quote.lines.kept()) == [first]
    back = address(workshop, "quote_line_put_back", quote.pk, second.pk)
    assert back in response.content.decode()
    client.post(back)
    assert list(quote.lines.kept()) == [second, first]


def test_a_replaced_quote_is_marked_everywhere(client, workshop, owner, quote):
    sent_quote(quote, owner)
    response = client.post(address(workshop, "quote_revise", quote.pk), follow=True)
    revision = response.context["quote"]
    assert revision.revision == 2
    client.post(address(workshop, "quote_send", revision.pk))
    page = client.get(address(workshop, "quote", quote.pk)).content.decode()
    assert "No longer valid" in page
    assert address(workshop, "quote", revision.pk) in page
    assert address(workshop, "quote_accept", quote.pk) not in page
    response = client.post(
        address(workshop, "quote_accept", quote.pk),
        {"decided_by": "Ada", "decided_on": today().isoformat()},
    )
    assert response.status_code == 422
    assert "replaced by a revision" in response.content.decode()
    listed = client.get(address(workshop, "quote_list"))
    assert [row.record.pk for row in listed.context["table"].rows] == [revision.pk]
    listed = client.get(address(workshop, "quote_list") + "?state=replaced").content.decode()
    assert "replaced by a revision" in listed


def test_a_draft_thrown_away_comes_back(client, workshop, quote):
    response = client.post(address(workshop, "quote_discard", quote.pk), follow=True)
    back = address(workshop, "quote_restore", quote.pk)
    assert back in response.content.decode()
    client.post(back)
    quote.refresh_from_db()
    assert quote.state == "draft"


def test_the_list_is_narrowed_by_state_customer_and_words(client, workshop, owner, quote):
    yesterday = today() - datetime.timedelta(days=1)
    waiting, expired = make_quote(workshop, title="Summer fair"), make_quote(workshop)
    for each in (waiting, expired):
        make_line(each, make_recipe(workshop), 1)
        sent_quote(each, owner)
    Quote.objects.filter(pk=expired.pk).update(valid_until=yesterday)

    def found(query):
        table = client.get(f"{address(workshop, 'quote_list')}?{query}").context["table"]
        return {row.record.pk for row in table.rows}

    assert found("") == {quote.pk, waiting.pk, expired.pk}
    assert found("state=draft") == {quote.pk}
    assert found("state=waiting") == {waiting.pk}
    assert found("state=expired") == {expired.pk}
    assert found("search=summer") == {waiting.pk}
    assert found(f"customer={quote.customer_id}") == {quote.pk}
    assert found("state=nonsense&customer=x") == {quote.pk, waiting.pk, expired.pk}


def test_more_rows_cost_no_more_queries(client, workshop, owner, count_queries):
    def queries():
        with count_queries() as counted:
            assert client.get(address(workshop, "quote_list")).status_code == 200
        return len(counted)

    make_line(make_quote(workshop), make_recipe(workshop), 1)
    client.get(address(workshop, "quote_list"))
    few = queries()
    for _ in range(5):
        made = make_quote(workshop)
        make_line(made, make_recipe(workshop), 1)
        sent_quote(made, owner)
    assert queries() == few


def test_more_lines_cost_no_more_queries(client, workshop, quote, count_queries):
    where = address(workshop, "quote", quote.pk)

    def queries():
        with count_queries() as counted:
            assert client.get(where).status_code == 200
        return len(counted)

    client.get(where)
    few = queries()
    version = quote.lines.get().version
    for number in range(6):
        make_line(quote, version if number % 2 else make_recipe(workshop), 3 + number)
    # the first look at a changed draft keeps its total, whatever its lines
    assert queries() == few + 1
    assert queries() == few


@pytest.mark.parametrize("name", ["quote_pdf", "quote_own_pdf"])
def test_the_pdfs_of_draft_and_sent_quote(client, reader_client, workshop, owner, quote, name):
    for _ in range(2):
        response = client.get(address(workshop, name, quote.pk))
        assert response.content.startswith(b"%PDF-")
        assert response["Content-Type"] == "application/pdf"
        sent_quote(Quote.objects.get(pk=quote.pk), owner) if quote.state == "draft" else None
        quote.refresh_from_db()
    assert f"Q-{today().year}-0001" in response["Content-Disposition"]
    assert reader_client.get(address(workshop, name, quote.pk)).status_code == 200


def test_home_says_what_waits_and_what_runs_out(client, workshop, owner, quote):
    soon, later = make_quote(workshop), make_quote(workshop)
    for made, days in ((soon, 3), (later, 30)):
        make_line(made, make_recipe(workshop), 1)
        made.valid_until = today() + datetime.timedelta(days=days)
        made.save()
        sent_quote(made, owner)
    page = client.get(reverse("pricing:home", args=[workshop.slug]))
    said = {due.url: due.action for due in page.context["due"]}
    assert said[address(workshop, "quote", soon.pk)] == "Open quote"
    assert said[address(workshop, "quote", quote.pk)] == "Finish quote"
    # one that has time waits in the list of quotes, and does not crowd what is to be done now
    assert address(workshop, "quote", later.pk) not in said
    assert address(workshop, "quote", soon.pk) in page.content.decode()


def test_a_design_without_a_recipe_cannot_be_chosen(client, workshop, quote):
    design = make_design(workshop)
    where = f"{address(workshop, 'quote_line_new', quote.pk)}?design={design.pk}"
    assert client.get(where).status_code == 422


def test_lists_leave_what_was_frozen_in_the_database(client, workshop, owner, quote, count_queries):
    sent_quote(quote, owner)
    for where in (address(workshop, "quote_list"), reverse("pricing:home", args=[workshop.slug])):
        with count_queries() as counted:
            client.get(where)
        read = [each["sql"] for each in counted if "pricing_quote" in each["sql"]]
        assert read
        # one figure of it, taken out in the database, may be asked for; never all of it
        assert not any(re.search(r'[^(]"pricing_quote"."frozen"', sql) for sql in read)


def test_a_long_quote_is_explained_when_asked(client, workshop, owner, quote):
    for _ in range(21):
        make_line(quote, quote.lines.first().version, 5)
    where = address(workshop, "quote", quote.pk)
    for _ in range(2):
        page = client.get(where)
        assert "tree" not in page.context
        assert "?how" in page.content.decode()
        assert client.get(f"{where}?how").context["tree"].lines
        if not Quote.objects.get(pk=quote.pk).frozen:
            sent_quote(quote, owner)


def test_a_new_quote_starts_from_a_channel_for_orders(client, workshop):
    make_channel(workshop, name="Stall", kind="fair", position=0)
    orders = make_channel(workshop, name="Orders", kind="direct", position=1)
    form = client.get(address(workshop, "quote_new")).context["form"]
    assert form["channel"].value() == str(orders.pk)
