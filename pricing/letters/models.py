"""Texts of letters that were changed; one that was not has the text of the program."""

from django.db import models

from maker.workshop.models import Workshop


class LetterQuerySet(models.QuerySet["Letter"]):
    """Changed texts."""

    def of(self, workshop: Workshop) -> "LetterQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)


class Letter(models.Model):
    """The text of one kind of letter, as a workshop writes it."""

    class Kind(models.TextChoices):
        QUOTE = "quote", "Quote with its link"
        ORDER = "order", "Order with its link"
        REMINDER = "reminder", "Payment reminder"

    workshop = models.ForeignKey("maker.Workshop", on_delete=models.CASCADE, related_name="letters")
    kind = models.CharField(max_length=10, choices=Kind)
    subject = models.CharField(max_length=200)
    text = models.TextField(max_length=10_000)

    objects = LetterQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["workshop", "kind"], name="one_letter_of_a_kind"),
        )

    def __str__(self) -> str:
        return self.get_kind_display()
