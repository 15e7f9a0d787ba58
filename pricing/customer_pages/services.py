"""Links made, revoked and mailed; what a customer does by one."""

import datetime
import hashlib
import re
import secrets
import uuid

from django.conf import settings
from django.db import transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.http import urlencode

from maker.accounts.models import User
from maker.calc.dates import say_date
from maker.calc.refusal import Refusal
from maker.mail.services import MailNotSent, send_letter
from maker.sealing import SealBroken
from pricing.customer_pages.models import QuoteLink, QuoteMessage
from pricing.orders.models import Order
from pricing.orders.services import accept
from pricing.quotes.models import Quote
from pricing.quotes.sending import decline_quote
from pricing.quotes.services import locked

MOST_MESSAGES = 50  # to a quote, by asking
MOST_SAID = 100  # with what is said of its order
LONGEST = datetime.timedelta(days=366)
KEY_IN_TEXT = re.compile(r"[?&]key=([A-Za-z0-9_-]+)")
Kind = QuoteMessage.Kind


class NoLink(Refusal):
    """A link for a quote that can't be answered, or a date that can't be."""


class LinkMade(Refusal):
    """The same form was sent before."""


class LinkClosed(Refusal):
    """The link was revoked or its last day has passed."""


class NotAnswerable(Refusal):
    """The quote can't be answered by this link any more."""


class TooManyMessages(Refusal):
    """More was said about a quote than anybody reads."""


class AlreadyMailed(Refusal):
    """The link was sent before."""


class LinkMissing(Refusal):
    """The message doesn't hold its link."""


def is_offered() -> bool:
    """Return whether customers can reach this installation at all."""
    return bool(settings.OUTSIDE_ADDRESS)


def address_of(key: str) -> str:
    """Return the whole address a customer opens."""
    path = reverse("pricing:customer_quote")
    return f"{settings.OUTSIDE_ADDRESS}{path}?{urlencode({'key': key})}"


def digest_of(key: str) -> str:
    """Return what is kept of a key. It has 256 random bits, so a fast hash is enough."""
    return hashlib.sha256(key.encode("utf-8", "replace")).hexdigest()


def may_have_link(quote: Quote) -> bool:
    """Return whether a customer has something to answer: a quote, or an order not finished."""
    if quote.state == Quote.State.SENT:
        return True
    return Order.objects.filter(quote=quote).open().exists()


@transaction.atomic
def make_link(
    *,
    quote: Quote,
    ends_on: datetime.date,
    by: User,
    today: datetime.date,
    form_key: uuid.UUID | None = None,
) -> tuple[QuoteLink, str]:
    """Make a link and return it with its key, which is kept nowhere. Refusals: NoLink, LinkMade."""
    held = locked(quote)
    if not may_have_link(held):
        raise NoLink("Only a sent quote or an order that isn’t finished gets a link.")
    if form_key and QuoteLink.objects.filter(form_key=form_key).exists():
        raise LinkMade("This link is made already. It was shown once; create another if needed.")
    if ends_on < today:
        raise NoLink("Enter a date that has not passed.", where="ends_on")
    if ends_on > today + LONGEST:
        raise NoLink("Enter a date within a year.", where="ends_on")
    key = secrets.token_urlsafe(32)
    link = QuoteLink.objects.create(
        quote=held, digest=digest_of(key), made_by=by, ends_on=ends_on, form_key=form_key
    )
    return link, key


def revoke_link(*, link: QuoteLink) -> None:
    """Close a link now; a second click changes nothing."""
    QuoteLink.objects.filter(pk=link.pk, revoked_at=None).update(revoked_at=timezone.now())


def mail_link(*, link: QuoteLink, to: str, subject: str, text: str) -> None:
    """Send the message a link was made for, once.

    Refusals: LinkMissing, AlreadyMailed, MailNotSent, SealBroken.
    """
    if not any(digest_of(key) == link.digest for key in KEY_IN_TEXT.findall(text)):
        raise LinkMissing("Keep the link in the message, unchanged.", where="text")
    # said before it is sent, so that a second click finds it said
    mine = QuoteLink.objects.filter(pk=link.pk)
    if not mine.filter(sent_at=None).update(sent_at=timezone.now(), sent_to=to):
        raise AlreadyMailed("This link was sent already.")
    try:
        send_letter(to=to, subject=subject, text=text)
    except (MailNotSent, SealBroken):
        mine.update(sent_at=None, sent_to="")
        raise


def link_of(key: str) -> QuoteLink | None:
    """Return the link a key opens, open or not; None for a key that was never made."""
    links = QuoteLink.objects.filter(digest=digest_of(key))
    return links.select_related("quote__customer__workshop").first()


def refuse_closed(link: QuoteLink, today: datetime.date) -> None:
    """Say why a link doesn't open. Refusals: LinkClosed."""
    shop = link.quote.workshop
    if link.revoked_at is not None:
        raise LinkClosed(f"{shop} has closed this link. Ask for a new one.")
    if link.is_over(today):
        raise LinkClosed(f"This link ended on {say_date(link.ends_on)}. Ask {shop} for a new one.")


def why_closed(quote: Quote, today: datetime.date) -> str:
    """Return why the customer can't answer a quote now; empty when she can."""
    shop, day = quote.workshop, quote.decided_on
    if quote.state == Quote.State.ACCEPTED:
        who = f" by {quote.decided_by}" if quote.decided_by else ""
        return f"This quote was accepted{who}{f' on {say_date(day)}' if day else ''}."
    if quote.state == Quote.State.DECLINED:
        return f"This quote was declined{f' on {say_date(day)}' if day else ''}."
    if quote.state == Quote.State.REPLACED:
        return f"A newer revision has replaced this quote. Ask {shop} for its link."
    if quote.is_expired(today) and quote.valid_until:
        return (
            f"This quote was valid until {say_date(quote.valid_until)}. Ask {shop} for a new one."
        )
    if quote.state != Quote.State.SENT:
        return "This quote can’t be answered now."
    return ""


def _answerable(link: QuoteLink, today: datetime.date) -> Quote:
    """Hold link and quote for an answer. Refusals: LinkClosed, NotAnswerable."""
    refuse_closed(_held(link), today)
    quote = locked(link.quote)
    if why := why_closed(quote, today):
        raise NotAnswerable(why)
    return quote


def _held(link: QuoteLink) -> QuoteLink:
    rows = QuoteLink.objects.select_for_update(of=("self",))
    return rows.select_related("quote__customer__workshop").get(pk=link.pk)


def _say(quote: Quote, link: QuoteLink, kind: Kind, name: str, text: str = "") -> QuoteMessage:
    return QuoteMessage.objects.create(
        quote=quote,
        link=link,
        kind=kind,
        name=name,
        text=text,
        revision=quote.revision,
        said_at=timezone.now(),
    )


def say(link: QuoteLink, kind: Kind, name: str, text: str, today: datetime.date) -> QuoteMessage:
    """Keep what a customer did with her order. Refusals: LinkClosed, TooManyMessages."""
    held = _held(link)
    refuse_closed(held, today)
    quote = locked(link.quote)
    if QuoteMessage.objects.filter(quote=quote).count() >= MOST_SAID:
        raise TooManyMessages(f"Please write to {quote.workshop} directly.")
    return _say(quote, link, kind, name, text)


@transaction.atomic
def customer_accepts(*, link: QuoteLink, name: str, today: datetime.date) -> QuoteMessage:
    """Accept the quote in the customer's name; its order is planned with it.

    Name, moment and revision are kept. Refusals: LinkClosed, NotAnswerable.
    """
    quote = _answerable(link, today)
    accept(quote=quote, who=name, on=today, today=today)
    return _say(quote, link, Kind.ACCEPTED, name)


@transaction.atomic
def customer_declines(
    *, link: QuoteLink, name: str, reason: str, note: str, today: datetime.date
) -> QuoteMessage:
    """Decline the quote in the customer's name. Refusals: LinkClosed, NotAnswerable."""
    quote = _answerable(link, today)
    decline_quote(quote=quote, reason=reason, note=note, on=today, today=today)
    return _say(quote, link, Kind.DECLINED, name, note)


@transaction.atomic
def customer_asks(
    *, link: QuoteLink, name: str, text: str, today: datetime.date
) -> QuoteMessage | None:
    """Keep a question; None for one that was kept a moment ago, by a click before.

    Refusals: LinkClosed, TooManyMessages.
    """
    refuse_closed(_held(link), today)
    quote = locked(link.quote)
    said = QuoteMessage.objects.filter(quote=quote)
    if said.filter(kind=Kind.QUESTION, name=name, text=text).exists():
        return None
    if said.count() >= MOST_MESSAGES:
        raise TooManyMessages(f"Please write to {quote.workshop} directly.", where="text")
    return _say(quote, link, Kind.QUESTION, name, text)


def mark_read(*, message: QuoteMessage) -> None:
    """Say that somebody has seen a message."""
    QuoteMessage.objects.filter(pk=message.pk, read_at=None).update(read_at=timezone.now())
