"""Keeping suppliers: saved by two people without loss, put away instead of deleted."""

from django.db import transaction

from catalogue.suppliers.models import Supplier
from maker.web.editing import take_turn
from maker.workshop.models import Workshop
from maker.workshop.services import NameTaken, claim_name


@transaction.atomic
def save_supplier(*, supplier: Supplier, edit_number: int | None = None) -> Supplier:
    """Store a new or changed supplier. Refuses a name that is taken, and a lost turn."""
    claim_name(supplier, f"You already have a supplier “{supplier.name}”.")
    if supplier.pk:
        take_turn(supplier, edit_number)
    supplier.save()
    return supplier


def supplier_named(*, workshop: Workshop, name: str) -> Supplier:
    """Return the supplier of this name, however it is capitalised; a new one if there is none.

    Refuses one that was put away: bring it back instead.
    """
    found = Supplier.objects.of(workshop).filter(name__iexact=name).first()
    if found is None:
        new = Supplier(workshop=workshop, name=name, lead_days=workshop.purchase_lead_days)
        return save_supplier(supplier=new)
    if found.retired_on:
        raise NameTaken(f"“{found}” is archived. Restore it first.", where="new_supplier")
    return found
