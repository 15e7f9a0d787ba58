"""A photo or PDF of a receipt or an expense, or of one that is being entered."""

import uuid
from typing import Any

from django.db import models

from maker.workshop.models import Workshop


class ReceiptFileQuerySet(models.QuerySet["ReceiptFile"]):
    """Photos and PDFs of a workshop."""

    def of(self, workshop: Workshop) -> "ReceiptFileQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def standing(self) -> "ReceiptFileQuerySet":
        """Those not removed."""
        return self.filter(removed_at__isnull=True)

    def of_entry(self, owner: Any, form_key: uuid.UUID | None) -> "ReceiptFileQuerySet":
        """Those of a receipt or expense, or of the entry page it will come from."""
        if owner.pk:
            return self.filter(**{column_of(owner): owner})
        if form_key is None:
            return self.none()
        return self.pending().filter(workshop=owner.workshop, form_key=form_key)

    def pending(self) -> "ReceiptFileQuerySet":
        """Those of entry pages that were not saved yet."""
        return self.filter(purchase__isnull=True, expense__isnull=True)

    def in_order(self) -> "ReceiptFileQuerySet":
        """In the order they were added, with what is stored."""
        return self.select_related("picture", "pdf").order_by("pk")


class ReceiptFile(models.Model):
    """One photo or PDF. `form_key` is the entry page it was added on, before that was saved."""

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="receipt_files"
    )
    purchase = models.ForeignKey(
        "catalogue.Purchase",
        on_delete=models.CASCADE,
        null=True,
        blank=True,
        related_name="files",
    )
    expense = models.ForeignKey(
        "catalogue.Expense", on_delete=models.CASCADE, null=True, blank=True, related_name="files"
    )
    form_key = models.UUIDField(null=True, blank=True, db_index=True)
    picture = models.ForeignKey(
        "maker.StoredPicture", on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    pdf = models.ForeignKey(
        "maker.StoredPdf", on_delete=models.CASCADE, null=True, blank=True, related_name="+"
    )
    # what the file was called on her phone or computer
    name = models.CharField(max_length=120, blank=True)
    added_at = models.DateTimeField(auto_now_add=True)
    added_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    removed_at = models.DateTimeField(null=True, blank=True)

    objects = ReceiptFileQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(picture__isnull=False, pdf__isnull=True)
                | models.Q(picture__isnull=True, pdf__isnull=False),
                name="receipt_file_is_picture_or_pdf",
            ),
            models.CheckConstraint(
                condition=models.Q(purchase__isnull=True) | models.Q(expense__isnull=True),
                name="receipt_file_of_one",
            ),
        )

    def __str__(self) -> str:
        return self.name or ("PDF" if self.pdf_id else "photo")

    @property
    def stored(self) -> Any:
        """The row of what is stored, a picture or a PDF."""
        return self.pdf if self.pdf_id else self.picture

    @property
    def ending(self) -> str:
        """What the name of its file ends with."""
        return "pdf" if self.pdf_id else "jpg"


def column_of(owner: Any) -> str:
    """Return which column points to a receipt or an expense."""
    return {"Purchase": "purchase", "Expense": "expense"}[type(owner).__name__]
