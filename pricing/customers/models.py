"""People and shops she quotes for."""

from django.db import models

from maker.workshop.models import ArchivableQuerySet


class CustomerQuerySet(ArchivableQuerySet["Customer"]):
    """Customers of a workshop."""

    def matching(self, text: str) -> "CustomerQuerySet":
        """Those whose name, contact or e-mail holds the text."""
        return self.filter(
            models.Q(name__icontains=text)
            | models.Q(contact__icontains=text)
            | models.Q(email__icontains=text)
        )

    def with_quote_count(self) -> "CustomerQuerySet":
        """With `quote_count`, drafts thrown away left out."""
        return self.annotate(
            quote_count=models.Count("quotes", filter=~models.Q(quotes__state="discarded"))
        )


class Customer(models.Model):
    """Whom a quote is for. A sent quote keeps its own copy of name and address."""

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="customers"
    )
    name = models.CharField(max_length=120)
    contact = models.CharField(max_length=120, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    address = models.TextField(max_length=500, blank=True)
    notes = models.TextField(max_length=4000, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    # who it was is gone for good
    erased_on = models.DateField(null=True, blank=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = CustomerQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["workshop", "name"], name="customer_name_once"),
        )

    def __str__(self) -> str:
        return self.name
