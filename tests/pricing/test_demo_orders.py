"""The demo's orders say what the services would: totals, deliveries, needs, invoices."""

from decimal import Decimal

import pytest

from catalogue.recipes.models import Colourway
from pricing.calc.enquiries.colours import split_by_colour
from pricing.calc.invoicing.invoices import order_totals
from pricing.enquiries.models import Enquiry
from pricing.orders.inputs import goods_of, lines_now, sale_terms
from pricing.orders.models import Invoice, Order
from pricing.orders.services import needed, owed_on
from pricing.quotes.inputs import work_out
from pricing.quotes.models import Quote

pytestmark = pytest.mark.django_db

ZERO = Decimal(0)


@pytest.fixture
def orders(demo):
    found = list(Order.objects.of(demo).with_people().order_by("number"))
    assert len(found) >= 2
    return found


def test_totals_are_those_of_what_is_ordered(orders):
    for order in orders:
        frozen = order.quote.frozen
        whole = order_totals([goods_of(lines_now(order), frozen)], sale_terms(frozen))
        assert whole.gross == order.total, order


def test_deliveries_hold_what_is_ordered(orders):
    for order in orders:
        planned = {}
        for delivery in order.deliveries.all():
            for row in delivery.lines.all():
                planned[row.line_id] = planned.get(row.line_id, 0) + row.quantity
        assert planned == {line.pk: line.quantity for line in lines_now(order)}, order


def test_needs_are_those_of_the_recipes(orders):
    for order in orders:
        quote = Quote.objects.with_people().get(pk=order.quote_id)
        worked = work_out(quote)
        assert worked.price is not None, order
        extra = {}
        for change in order.changes.filter(state="accepted"):
            for name, amount in change.document["own"]["needs"].items():
                extra[name] = extra.get(name, ZERO) + Decimal(amount)
        wanted = needed(worked)
        for need in order.needs.select_related("material"):
            expected = wanted.pop(need.material_id, ZERO) + extra.get(need.material.name, ZERO)
            assert need.amount == pytest.approx(expected, abs=Decimal("0.000001")), need.material
        assert not wanted, order


def test_invoices_and_payments_agree_with_the_stage(orders):
    for order in orders:
        invoices = list(order.invoices.filter(kind=Invoice.Kind.INVOICE))
        if invoices and not order.deliveries.filter(invoice=None).exists():
            assert sum(each.total for each in invoices) == order.total
        for each in invoices:
            document = each.document
            assert Decimal(document["total"]) == each.total
            assert each.total - Decimal(document["deposit"]) == each.to_pay
            assert {line["line"] for line in document["lines"]} <= {
                line.pk for line in lines_now(order)
            }
        if order.state == Order.State.SETTLED:
            assert owed_on(order) <= 0
        gone = order.deliveries.filter(delivered_on__isnull=False).count()
        everything = gone == order.deliveries.count()
        assert everything == (order.state in (Order.State.DELIVERED, Order.State.SETTLED))


def test_an_enquiry_names_colourways_that_a_design_has(demo):
    asked = Enquiry.objects.of(demo).get(title="Bags for the story hour")
    ways = Colourway.objects.filter(version__design__name="Meadow gift bag", version__number=2)
    names = list(ways.values_list("name", flat=True))
    assert split_by_colour(asked.colours, names, 120) == [("Meadow", 80), ("Winterberry", 40)]
