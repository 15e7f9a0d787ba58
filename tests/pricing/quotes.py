"""Makes customers and quotes for tests, by the services the pages use."""

from itertools import count

from pricing.customers.models import Customer
from pricing.quotes.models import Quote
from pricing.quotes.sending import send_quote
from pricing.quotes.services import QuoteLineInput, add_line, new_quote
from tests.factories import today

_numbers = count(1)


def make_customer(workshop, **fields):
    """A customer with a name."""
    return Customer.objects.create(
        workshop=workshop, **{"name": f"Customer {next(_numbers)}", **fields}
    )


def make_quote(workshop, **fields):
    """A draft for a customer of its own."""
    customer = fields.pop("customer", None) or make_customer(workshop)
    return new_quote(workshop=workshop, customer=customer, today=today(), **fields)


def make_line(quote, version, quantity=12, **fields):
    """One more line on a draft."""
    now = Quote.objects.get(pk=quote.pk)
    line = QuoteLineInput(version=version, quantity=quantity, **fields)
    return add_line(quote=now, line=line, edit_number=now.edit_number)


def sent_quote(quote, by, on=None):
    """The quote, sent."""
    fresh = Quote.objects.with_people().get(pk=quote.pk)
    return send_quote(quote=fresh, by=by, today=on or today())
