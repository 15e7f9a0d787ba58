"""Keeping customers: saved by two people without loss, archived instead of deleted."""

from django.db import transaction

from maker.web.editing import take_turn
from maker.workshop.models import Workshop
from maker.workshop.services import NameTaken, claim_name
from pricing.customers.models import Customer


@transaction.atomic
def save_customer(*, customer: Customer, edit_number: int | None = None) -> Customer:
    """Store a new or changed customer. Refuses a name that is taken, and a lost turn."""
    claim_name(
        customer,
        f"You already have a customer “{customer.name}”. Add a town or a first name to tell them "
        "apart.",
    )
    if customer.pk:
        take_turn(customer, edit_number)
    customer.save()
    return customer


def customer_named(*, workshop: Workshop, name: str) -> Customer:
    """Return the customer of this name, however it is capitalised; a new one if there is none.

    Refuses one that is archived: restore it instead.
    """
    found = Customer.objects.of(workshop).filter(name__iexact=name).first()
    if found is None:
        return save_customer(customer=Customer(workshop=workshop, name=name))
    if found.retired_on:
        raise NameTaken(f"“{found}” is archived. Restore the customer first.", where="new_name")
    return found
