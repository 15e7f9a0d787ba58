"""Keeping suppliers: saved by two people without loss, put away instead of deleted."""

from django.db import transaction

from catalogue.suppliers.models import Supplier
from maker.calc.refusal import Refusal
from maker.web.editing import take_turn
from maker.workshop.models import Workshop


class NameTaken(Refusal):
    """Another supplier of the workshop has this name."""


@transaction.atomic
def save_supplier(*, supplier: Supplier, edit_number: int | None = None) -> Supplier:
    """Store a new or changed supplier. Refuses a name that is taken, and a lost turn."""
    # one at a time in a workshop, so that two new ones cannot both find the name free
    Workshop.objects.select_for_update(no_key=True).get(pk=supplier.workshop_id)
    same = Supplier.objects.filter(workshop=supplier.workshop_id, name__iexact=supplier.name)
    if same.exclude(pk=supplier.pk).exists():
        raise NameTaken(f"You already have a supplier “{supplier.name}”.", where="name")
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
        raise NameTaken(f"“{found}” is put away. Bring it back first.", where="new_supplier")
    return found
