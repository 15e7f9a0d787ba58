"""A customer's link to a quote: opened, answered, ended; and what it never shows."""

import datetime
import re
import uuid

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from maker.mail.models import MailServer
from maker.mail.services import MailNotSent
from maker.settings import _outside_address
from pricing.customer_pages.models import QuoteLink, QuoteMessage
from pricing.customer_pages.services import (
    AlreadyMailed,
    LinkClosed,
    LinkMissing,
    NoLink,
    NotAnswerable,
    TooManyMessages,
    address_of,
    customer_accepts,
    customer_asks,
    customer_declines,
    digest_of,
    mail_link,
    make_link,
    mark_read,
    revoke_link,
)
from pricing.orders.models import Order
from pricing.orders.services import accept
from pricing.quotes.models import Quote
from pricing.quotes.sending import revise_quote
from pricing.workshop_file.services import export_workshop, import_workshop
from tests.at_once import at_once
from tests.factories import make_recipe, today
from tests.pricing.quotes import make_customer, make_line, make_quote, sent_quote

DAY = datetime.timedelta(days=1)
OUTSIDE = "https://quotes.example.test"
SECRET_NOTE = "she haggles, so start high"


def again(row):
    return type(row).objects.get(pk=row.pk)


@pytest.fixture(autouse=True)
def _outside(settings, tmp_path):
    settings.OUTSIDE_ADDRESS = OUTSIDE
    settings.ALLOWED_HOSTS = ["testserver"]
    settings.DATA_DIR = tmp_path


@pytest.fixture
def quote(workshop, owner):
    customer = make_customer(workshop, name="Fenn & Sons", email="ada@example.test")
    made = make_quote(workshop, title="Favour boxes", customer=customer)
    Quote.objects.filter(pk=made.pk).update(own_notes=SECRET_NOTE)
    make_line(made, make_recipe(workshop), quantity=20)
    return sent_quote(made, owner)


@pytest.fixture
def made(quote, owner):
    return make_link(quote=quote, ends_on=today() + 9 * DAY, by=owner, today=today())


@pytest.fixture
def link(made):
    return made[0]


@pytest.fixture
def page(made):
    return f"{reverse('pricing:customer_quote')}?key={made[1]}"


@pytest.fixture
def customer():
    """A browser of nobody that is signed in, which checks every guard."""
    return Client(enforce_csrf_checks=True)


def told(answer):
    return answer.content.decode()


def test_the_key_is_kept_nowhere(made):
    link, key = made
    assert len(key) >= 43
    row = QuoteLink.objects.values().get(pk=link.pk)
    assert key not in str(row)
    assert row["digest"] == digest_of(key)


def test_a_customer_reads_her_quote(customer, page, quote):
    answer = customer.get(page)
    assert answer.status_code == 200
    text = told(answer)
    assert quote.number in text
    assert "Fenn &amp; Sons" in text
    assert "Accept quote for" in text
    assert "<script" not in text


def test_nobody_finds_keeps_or_passes_it_on(customer, page):
    answer = customer.get(page)
    assert answer["X-Robots-Tag"].startswith("noindex, nofollow")
    assert answer["Referrer-Policy"] == "no-referrer"
    assert "no-store" in answer["Cache-Control"]
    assert '<meta name="robots" content="noindex, nofollow' in told(answer)
    assert not answer.cookies


def test_no_inner_figure_is_in_the_source(customer, page, quote):
    source = told(customer.get(page)) + told(customer.post(page, {"answer": "accept"}))
    own, line = quote.frozen["own"], quote.frozen["own"]["lines"][0]
    public = {str(value) for value in quote.frozen["public"].values() if isinstance(value, str)}
    public |= {str(value) for value in quote.frozen["public"]["lines"][0].values()}
    inner = [own[key] for key in ("cost", "floor", "profit", "minutes", "per_hour", "margin")]
    inner += [line[key] for key in ("cost", "floor_each", "minutes", "per_hour")]
    wanted = {value[:7] for value in inner if value and len(value) > 3} - public
    assert len(wanted) >= 5
    text = re.sub(r"<svg.*?</svg>", "", source, flags=re.S)
    assert not [value for value in wanted if value in text]
    lowered = text.lower()
    for word in ("wage", "margin", "lowest price", "overhead", "profit", "your hour", "floor"):
        assert word not in lowered, word
    assert SECRET_NOTE not in text


def test_accepting_keeps_name_moment_and_revision_and_plans_the_order(customer, page, quote, link):
    answer = customer.post(page, {"answer": "accept", "name": "Ada Fenn"})
    assert answer.status_code == 302
    assert again(quote).state == Quote.State.ACCEPTED
    assert again(quote).decided_by == "Ada Fenn"
    assert Order.objects.get().quote_id == quote.pk
    said = QuoteMessage.objects.get()
    assert (said.kind, said.name, said.revision, said.link) == ("accepted", "Ada Fenn", 1, link)
    text = told(customer.get(answer["Location"]))
    assert "This quote was accepted by Ada Fenn" in text
    # the notice has no title, and the quote's title is not taken for one
    assert "notice-title" not in text
    assert "Accept quote for" not in text


def test_a_browser_that_says_no_origin_may_answer(customer, page, quote):
    """With `no-referrer` a browser sends `Origin: null` along with a form."""
    answer = customer.post(page, {"answer": "accept", "name": "Ada"}, headers={"origin": "null"})
    assert answer.status_code == 302
    assert again(quote).state == Quote.State.ACCEPTED


def test_a_yes_needs_a_name_and_keeps_what_was_typed(customer, page, quote):
    answer = customer.post(page, {"answer": "accept", "name": " "})
    assert answer.status_code == 422
    assert "Enter your name." in told(answer)
    asked = customer.post(page, {"answer": "ask", "name": "", "text": "In <b>green</b>?"})
    assert asked.status_code == 422
    assert "In &lt;b&gt;green&lt;/b&gt;?" in told(asked)
    assert again(quote).state == Quote.State.SENT


def test_declining_keeps_the_reason(customer, page, quote):
    customer.post(
        page, {"answer": "decline", "name": "Ada", "reason": "date", "note": "A week too late"}
    )
    row = again(quote)
    assert (row.state, row.reason, row.reason_note) == ("declined", "date", "A week too late")
    assert QuoteMessage.objects.get().kind == "declined"
    assert "This quote was declined" in told(customer.get(page))


def test_a_question_reaches_home_and_quote_until_it_is_read(customer, page, client, workshop):
    for _ in range(2):  # a second click asks nothing twice
        customer.post(page, {"answer": "ask", "name": "Ada", "text": "Could it be green?"})
    said = QuoteMessage.objects.get()
    assert "Could it be green?" in told(customer.get(page))
    home = reverse("pricing:home", args=[workshop.slug])
    assert "Ada asked about" in told(client.get(home))
    shown = reverse("pricing:quote", args=[workshop.slug, said.quote_id])
    assert "Could it be green?" in told(client.get(shown))
    client.post(reverse("pricing:quote_message_read", args=[workshop.slug, said.quote_id, said.pk]))
    assert again(said).read_at is not None
    assert "Ada asked about" not in told(client.get(home))


@pytest.mark.parametrize("answer", ["", "pay", "accept "])
def test_a_made_up_answer_changes_nothing(customer, page, quote, answer):
    said = customer.post(page, {"answer": answer, "name": "Ada"})
    assert said.status_code == 422
    assert "Choose one of the buttons." in told(said)
    assert again(quote).state == Quote.State.SENT


# what happens to link and quote, and the sentence the customer reads
def _revoked(link, owner):
    revoke_link(link=link)


def _accepted(link, owner):
    accept(quote=link.quote, who="Bo Reed", on=today(), today=today())


def _replaced(link, owner):
    sent_quote(revise_quote(quote=link.quote, today=today()), owner)


def test_a_revoked_link_says_so(customer, page, link, quote, owner):
    _revoked(link, owner)
    answer = customer.get(page)
    assert answer.status_code == 410
    assert "has closed this link" in told(answer)
    assert quote.number not in told(answer)
    assert customer.post(page, {"answer": "accept", "name": "Ada"}).status_code == 410
    assert again(quote).state == Quote.State.SENT


def test_a_link_ends_with_its_last_day(customer, page, quote):
    with time_machine.travel(today() + 9 * DAY):
        assert customer.get(page).status_code == 200
    with time_machine.travel(today() + 10 * DAY):
        answer = customer.get(page)
        assert answer.status_code == 410
        assert "This link ended on" in told(answer)


def test_an_expired_quote_says_until_when_it_held(customer, quote, owner, link, page):
    Quote.objects.filter(pk=quote.pk).update(valid_until=today() - DAY)
    text = told(customer.get(page))
    assert "This quote was valid until" in text
    assert "Accept quote for" not in text
    refused = customer.post(page, {"answer": "accept", "name": "Ada"})
    assert refused.status_code == 422
    assert "This quote was valid until" in told(refused)
    assert not Order.objects.exists()


def test_a_replaced_revision_can_not_be_accepted_by_its_old_link(customer, page, link, owner):
    _replaced(link, owner)
    answer = customer.post(page, {"answer": "accept", "name": "Ada"})
    assert answer.status_code == 422
    assert "A newer revision has replaced this quote." in told(answer)
    assert "Accept quote for" not in told(answer)
    assert not Order.objects.exists()


def test_an_answer_given_meanwhile_is_told(customer, page, link, owner):
    _accepted(link, owner)
    answer = customer.post(page, {"answer": "decline", "name": "Ada"})
    assert answer.status_code == 422
    assert "This quote was accepted by Bo Reed" in told(answer)
    assert again(link.quote).state == Quote.State.ACCEPTED


@pytest.mark.django_db(transaction=True)
def test_of_two_people_who_accept_at_once_one_does(quote, owner):
    links = [
        make_link(quote=quote, ends_on=today() + DAY, by=owner, today=today())[0] for _ in range(2)
    ]
    results = at_once(
        lambda: customer_accepts(link=links[0], name="Ada", today=today()),
        lambda: customer_accepts(link=links[1], name="Bo", today=today()),
    )
    (yes,) = [each for each in results if isinstance(each, QuoteMessage)]
    (no,) = [each for each in results if isinstance(each, NotAnswerable)]
    assert f"accepted by {yes.name}" in no.message
    assert Order.objects.count() == 1
    assert QuoteMessage.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_of_yes_and_no_at_once_one_counts(link, quote):
    results = at_once(
        lambda: customer_accepts(link=link, name="Ada", today=today()),
        lambda: customer_declines(link=link, name="Bo", reason="", note="", today=today()),
    )
    assert sorted(type(each).__name__ for each in results) == ["NotAnswerable", "QuoteMessage"]
    assert Order.objects.exists() == (again(quote).state == Quote.State.ACCEPTED)


HOSTILE = ["", "x", "%00", "é" * 50, "A" * 5000, "' or 1=1 --", "../../etc", "%ed%a0%80", "😀"]


@pytest.mark.parametrize("key", HOSTILE)
def test_a_hostile_key_opens_nothing(customer, quote, link, key):
    for path in (reverse("pricing:customer_quote"), reverse("pricing:customer_quote_pdf")):
        for ask in (customer.get, customer.post):
            answer = ask(f"{path}?key={key}")
            assert answer.status_code == 404
            assert quote.number not in told(answer)


def test_its_digest_or_number_is_no_key(customer, link):
    for key in (link.digest, str(link.pk)):
        assert customer.get(f"{reverse('pricing:customer_quote')}?key={key}").status_code == 404


def test_guessing_is_slowed_down(customer, page):
    path = reverse("pricing:customer_quote")
    answers = [customer.get(f"{path}?key=wrong{number}").status_code for number in range(32)]
    assert answers[0] == 404
    assert answers[-1] == 429
    # a stranger who guesses closes no door to who has the key
    assert customer.get(page).status_code == 200


def test_one_link_answers_only_so_often(customer, page):
    answers = [
        customer.post(page, {"answer": "ask", "name": "Ada", "text": f"{number}?"})
        for number in range(22)
    ]
    assert answers[0].status_code == 302
    assert answers[-1].status_code == 429
    assert answers[-1]["Retry-After"]
    assert answers[-1]["X-Robots-Tag"]


def test_questions_end_somewhere(link):
    for number in range(50):
        customer_asks(link=link, name="Ada", text=f"{number}?", today=today())
    with pytest.raises(TooManyMessages):
        customer_asks(link=link, name="Ada", text="One more?", today=today())


def test_the_pdf_comes_by_the_same_key(customer, made):
    answer = customer.get(f"{reverse('pricing:customer_quote_pdf')}?key={made[1]}")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "application/pdf"
    assert answer["Referrer-Policy"] == "no-referrer"


def test_without_an_address_from_outside_nothing_is_offered(
    customer, page, client, quote, workshop, settings
):
    shown = reverse("pricing:quote", args=[workshop.slug, quote.pk])
    assert "Create link" in told(client.get(shown))
    settings.OUTSIDE_ADDRESS = ""
    assert customer.get(page).status_code == 404
    assert "Create link" not in told(client.get(shown))
    new = reverse("pricing:quote_link_new", args=[workshop.slug, quote.pk])
    assert client.get(new).status_code == 404


@pytest.mark.parametrize(
    ("said", "kept"),
    [
        ("", ""),
        ("https://quotes.example.test/", OUTSIDE),
        ("https://quotes.example.test:8443", "https://quotes.example.test:8443"),
        ("http://localhost:8000", "http://localhost:8000"),
    ],
)
def test_the_address_from_outside_is_scheme_and_host(said, kept):
    assert _outside_address(said) == kept


@pytest.mark.parametrize(
    "said",
    [
        *("quotes.example.test", "http://quotes.example.test", "https://", "https://a:b@c.test"),
        *("https://quotes.example.test/shop", "https://quotes.example.test/?key=1", "ftp://c.test"),
    ],
)
def test_another_address_stops_the_start(said):
    with pytest.raises(ValueError, match=r"not https|host"):
        _outside_address(said)


def test_only_a_waiting_quote_gets_a_link(workshop, owner):
    draft = make_quote(workshop)
    with pytest.raises(NoLink):
        make_link(quote=draft, ends_on=today(), by=owner, today=today())


@pytest.mark.parametrize("days", [-1, 400])
def test_the_last_day_is_within_a_year(quote, owner, days):
    with pytest.raises(NoLink):
        make_link(quote=quote, ends_on=today() + days * DAY, by=owner, today=today())


def create(client, quote, **typed):
    address = reverse("pricing:quote_link_new", args=[quote.workshop.slug, quote.pk])
    return client.post(
        address, {"ends_on": (today() + DAY).isoformat(), "form_key": uuid.uuid4(), **typed}
    )


def test_the_page_shows_a_link_once_and_mails_nothing(client, quote, tmp_path):
    form_key = uuid.uuid4()
    answer = create(client, quote, form_key=form_key)
    link = QuoteLink.objects.get()
    (key,) = set(re.findall(r"key=([\w-]{43})", told(answer)))
    assert digest_of(key) == link.digest
    assert "no-store" in answer["Cache-Control"]
    assert not (tmp_path / "mail").exists()
    # a second click makes no second link
    assert create(client, quote, form_key=form_key).status_code == 302
    assert QuoteLink.objects.count() == 1


def test_the_message_is_sent_as_it_was_typed_and_once(client, quote, tmp_path):
    text = told(create(client, quote))
    link = QuoteLink.objects.get()
    address = re.search(rf"{OUTSIDE}/customer/quote/\?key=[\w-]+", text)[0]
    send = reverse("pricing:quote_link_send", args=[quote.workshop.slug, quote.pk, link.pk])
    typed = {"to": "ada@example.test", "subject": "Your boxes", "text": f"Dear Ada,\n{address}\n"}
    assert client.post(send, typed).status_code == 302
    (letter,) = (tmp_path / "mail").iterdir()
    assert "Dear Ada," in letter.read_text()
    assert (again(link).sent_to, again(link).sent_at is None) == ("ada@example.test", False)
    client.post(send, typed)
    assert len(list((tmp_path / "mail").iterdir())) == 1


def test_a_message_without_its_link_is_refused_and_stays(client, quote, link):
    send = reverse("pricing:quote_link_send", args=[quote.workshop.slug, quote.pk, link.pk])
    typed = {"to": "ada@example.test", "subject": "Boxes", "text": f"Dear Ada {address_of('x')}"}
    answer = client.post(send, typed)
    assert answer.status_code == 422
    assert "Keep the link in the message" in told(answer)
    assert "Dear Ada" in told(answer)


def test_a_message_that_was_not_taken_can_be_sent_again(made):
    link, key = made
    MailServer.objects.create(pk=1, host="127.0.0.1", port=1, from_address="a@example.test")
    letter = {"to": "ada@example.test", "subject": "Boxes", "text": address_of(key)}
    with pytest.raises(MailNotSent):
        mail_link(link=link, **letter)
    assert again(link).sent_at is None
    MailServer.objects.all().delete()
    mail_link(link=link, **letter)
    with pytest.raises(AlreadyMailed):
        mail_link(link=link, **letter)
    with pytest.raises(LinkMissing):
        mail_link(link=link, **(letter | {"text": "no link"}))


def test_links_are_listed_and_revoked_on_the_quote(client, quote, link, workshop):
    shown = reverse("pricing:quote", args=[workshop.slug, quote.pk])
    assert "Revoke link" in told(client.get(shown))
    client.post(reverse("pricing:quote_link_revoke", args=[workshop.slug, quote.pk, link.pk]))
    assert again(link).revoked_at is not None
    assert "Revoke link" not in told(client.get(shown))
    with pytest.raises(LinkClosed):
        customer_accepts(link=link, name="Ada", today=today())


def test_a_link_of_somebody_else_is_not_found(stranger_client, quote, link, other_workshop):
    address = reverse("pricing:quote_link_revoke", args=[other_workshop.slug, quote.pk, link.pk])
    assert stranger_client.post(address).status_code == 404
    assert again(link).revoked_at is None


def test_messages_go_with_the_workshop_file_and_links_do_not(workshop, owner, link):
    message = customer_asks(link=link, name="Ada", text="Could it be green?", today=today())
    mark_read(message=message)
    written = export_workshop(workshop)
    assert "Could it be green?" in str(written)
    assert link.digest not in str(written)
    copied = import_workshop(written, owner=owner, name="Copy")
    (said,) = QuoteMessage.objects.of(copied)
    assert (said.name, said.kind, said.link) == ("Ada", "question", None)
    assert said.said_at == message.said_at
    assert not QuoteLink.objects.filter(quote__customer__workshop=copied).exists()


def test_more_messages_and_links_cost_no_more_queries(
    client, customer, page, made, quote, owner, count_queries
):
    shown = reverse("pricing:quote", args=[quote.workshop.slug, quote.pk])

    def counted():
        with count_queries() as inside:
            client.get(shown)
        with count_queries() as outside:
            customer.get(page)
        return len(inside), len(outside)

    customer_asks(link=made[0], name="Ada", text="0?", today=today())
    counted()
    few = counted()
    for number in range(1, 6):
        customer_asks(link=made[0], name="Ada", text=f"{number}?", today=today())
        make_link(quote=quote, ends_on=today() + DAY, by=owner, today=today())
    assert counted() == few


def test_the_total_is_among_the_first_things_said(customer, page, quote):
    text = told(customer.get(page))
    first, _, rest = text.partition("What is made")
    total = f"€{quote.frozen['public']['total']}"
    assert total in first
    assert total in rest
