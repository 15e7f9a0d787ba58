"""Paid, undone, delivered, invoiced, credited, cancelled in whatever order: it adds up.

What must hold after each step is written here anew, from totals and payments alone.
"""

import datetime
import random
from decimal import Decimal

import pytest
from django.db import transaction

from maker.calc.refusal import Refusal
from pricing.orders.crediting import left_to_credit
from pricing.orders.inputs import lines_now
from pricing.orders.models import Invoice, OrderDelivery
from pricing.orders.overdue import open_of_order
from pricing.orders.payments import undo_payment
from pricing.orders.services import cancel_order, owed_on, paid_on, reinstate_order, undo_delivery
from tests.factories import today
from tests.pricing.order_money import again, credit, invoice, make_order, part, pay, send
from tests.thorough import tries

ZERO, CENT = Decimal(0), Decimal("0.01")
DAY = datetime.timedelta(days=1)
STEPS = (
    *("pay", "pay", "pay back", "undo", "undo", "undo", "credit"),
    *("invoice", "invoice", "invoice", "deliver", "deliver back"),
    *("cancel", "reinstate", "reinstate"),
)


class History:
    """One order and what random steps did to it; each step that is refused did nothing."""

    def __init__(self, order, seed):
        self.order, self.chance, self.told = again(order), random.Random(seed), [f"seed {seed}"]

    def step(self):
        what, before = self.chance.choice(STEPS), self.opened()
        try:
            with transaction.atomic():
                made = getattr(self, what.replace(" ", "_"))()
        except (Refusal, IndexError):
            return
        self.told.append(f"{what} {made}")
        self.order = again(self.order)
        self.check()
        if isinstance(made, Invoice) and made.kind == Invoice.Kind.INVOICE:
            now = self.opened()
            assert now.pop(made.pk) == made.to_pay, self.told
            assert now == before, self.told

    def pay(self):
        return pay(self.order, self.chance.choice(["5", "20.01", "33.33", "60", "99.99"]))

    def pay_back(self):
        return pay(self.order, self.chance.choice(["-5", "-20.01", "-33.33"]))

    def undo(self):
        undo_payment(payment=self.chance.choice(list(self.order.payments.filter(is_undone=False))))

    def invoice(self):
        row = self.chance.choice(list(self.order.deliveries.filter(invoice=None)))
        count = self.order.invoices.count()
        return invoice(self.order, row.position, today() + count * DAY)

    def credit(self):
        people = "order__quote__customer__workshop"
        rows = self.order.invoices.filter(kind=Invoice.Kind.INVOICE).select_related(people)
        row = self.chance.choice(list(rows))
        (left,) = left_to_credit(row).values()
        return credit(row, self.chance.randint(1, max(left, 1)))

    def deliver(self):
        row = self.chance.choice(list(self.order.deliveries.filter(delivered_on=None)))
        send(self.order, row.position)

    def deliver_back(self):
        row = self.chance.choice(list(self.order.deliveries.exclude(delivered_on=None)))
        undo_delivery(delivery=part(self.order, row.position))

    def cancel(self):
        owed = (self.order.total * self.chance.choice([0, 50, 100]) / 100).quantize(CENT)
        cancel_order(order=self.order, on=today(), today=today(), reason="", owed=owed)

    def reinstate(self):
        reinstate_order(order=self.order)

    def opened(self):
        rows = list(self.order.invoices.order_by("pk"))
        return {key: each.left for key, each in open_of_order(self.order, rows).items()}

    def check(self):
        order, opened, owed = self.order, self.opened(), max(owed_on(self.order), ZERO)
        issued = list(order.invoices.filter(kind=Invoice.Kind.INVOICE))
        to_come = OrderDelivery.objects.filter(order=order, invoice=None).exists()
        is_cancelled = order.state == "cancelled"
        # each document rounds its tax once, so that parts may be a cent off the whole
        off = CENT * (len(issued) + 1)
        assert paid_on(order) >= 0, self.told
        net = {}
        for row in issued:
            notes = list(row.credit_notes.all())
            net[row.pk] = row.total - sum((note.total for note in notes), ZERO)
            assert 0 <= opened[row.pk] <= max(net[row.pk], ZERO), self.told
            assert self.sums(notes, "discount") <= Decimal(row.document["discount"]), self.told
            if not any(left_to_credit(row).values()):
                for key in ("goods", "discount"):
                    assert self.sums(notes, key) == Decimal(row.document[key]), self.told
        assert sum(opened.values()) <= owed + off, self.told
        if issued and not is_cancelled:
            # what was paid pays the deposit that invoices took off, then is kept for the next ones
            # as far as it is deposit, then pays the rest of what invoices counted and asked for
            counted = ZERO
            for row in issued:
                off = min(row.total - row.to_pay, net[row.pk])
                counted += off - min(Decimal(row.document["paid_before"]), off)
            kept = Decimal(issued[0].document["deposit_of_order"]) - self.sums(issued, "deposit")
            kept = min(max(paid_on(order) - counted, ZERO), kept if to_come else ZERO)
            asked = sum(net.values(), ZERO)
            assert sum(opened.values()) == max(asked - paid_on(order) + kept, ZERO), self.told
        if to_come:
            return
        if not is_cancelled:
            assert sum(opened.values()) == owed, self.told
        whole = order.quote.frozen["public"]
        assert self.sums(issued, "delivery") == Decimal(whole["delivery"]), self.told
        discount = sum(Decimal(each["amount"]) for each in whole["extras"])
        assert self.sums(issued, "discount") == discount, self.told
        for key, most in (("total", off), ("tax", off), ("net", off)):
            is_exact = key == "total" and order.quote.frozen["prices_include_tax"]
            apart = abs(self.sums(issued, key) - Decimal(whole[key]))
            assert apart <= (ZERO if is_exact else most), (key, self.told)

    @staticmethod
    def sums(rows, key):
        return sum((Decimal(each.document[key]) for each in rows), ZERO)


@pytest.mark.parametrize("include_tax", [True, False])
def test_every_history_adds_up(workshop, owner, include_tax):
    workshop.tax_registered, workshop.tax_rate = True, Decimal("0.19")
    workshop.prices_include_tax = include_tax
    workshop.save()
    order = make_order(
        workshop, owner, (9, 6, 4), price="3.33", deposit="0.3", discount="4.57", delivery="7.77"
    )
    assert sum(line.quantity for line in lines_now(order)) == 19
    steps = 0
    for seed in range(tries(8, thorough=200)):
        before = transaction.savepoint()
        history = History(order, seed)
        for _ in range(14):
            history.step()
        steps += len(history.told) - 1
        transaction.savepoint_rollback(before)
    # most of what was tried was done
    assert steps > 8 * 6
