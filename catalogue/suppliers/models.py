"""Shops and makers she buys from."""

from decimal import Decimal

from django.db import models
from django.db.models.functions import Lower

from maker.workshop.models import Workshop, money_field


class SupplierQuerySet(models.QuerySet["Supplier"]):
    """Suppliers of a workshop."""

    def of(self, workshop: Workshop) -> "SupplierQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def in_use(self) -> "SupplierQuerySet":
        """Those not put away."""
        return self.filter(retired_on__isnull=True)

    def put_away(self) -> "SupplierQuerySet":
        """Those put away."""
        return self.filter(retired_on__isnull=False)

    def with_material_count(self) -> "SupplierQuerySet":
        """With `material_count`: how many materials in use usually come from there."""
        return self.annotate(
            material_count=models.Count(
                "materials", filter=models.Q(materials__retired_on__isnull=True)
            )
        )

    def matching(self, text: str) -> "SupplierQuerySet":
        """Those whose name, address or notes hold the text."""
        return self.filter(
            models.Q(name__icontains=text)
            | models.Q(website__icontains=text)
            | models.Q(email__icontains=text)
            | models.Q(notes__icontains=text)
        )

    def to_choose(self, also: object = None) -> "SupplierQuerySet":
        """Those in use by name, and the one chosen already even if it was put away since."""
        wanted = models.Q(retired_on__isnull=True)
        if str(also or "").isdecimal():
            wanted |= models.Q(pk=str(also)[:18])
        return self.filter(wanted).by_name()

    def by_name(self) -> "SupplierQuerySet":
        """In the order of a list: capitals make no difference, whatever the database."""
        return self.order_by(Lower("name"), "pk")


class Supplier(models.Model):
    """Where material is bought, how fast it comes and what carriage costs."""

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="suppliers"
    )
    name = models.CharField(max_length=120)
    website = models.URLField(max_length=300, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    lead_days = models.PositiveSmallIntegerField(default=4)
    carriage = money_field(default=Decimal(0))
    carriage_free_from = money_field(null=True, blank=True)
    notes = models.TextField(max_length=4000, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = SupplierQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["workshop", "name"], name="supplier_name_once"),
            models.CheckConstraint(
                condition=models.Q(carriage__gte=0), name="supplier_carriage_not_negative"
            ),
        )

    def __str__(self) -> str:
        return self.name
