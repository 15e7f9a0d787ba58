"""The designs she makes; what a version is made of is in `catalogue.recipes`."""

from django.db import models

from maker.workshop.models import Workshop


class DesignQuerySet(models.QuerySet["Design"]):
    """Designs of a workshop."""

    def of(self, workshop: Workshop) -> "DesignQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def in_use(self) -> "DesignQuerySet":
        """Those not put away."""
        return self.filter(retired_on__isnull=True)

    def by_name(self) -> "DesignQuerySet":
        """In the order of a list."""
        return self.order_by("name", "pk")


class Design(models.Model):
    """A thing she makes and sells; its recipe is in its versions."""

    workshop = models.ForeignKey("maker.Workshop", on_delete=models.CASCADE, related_name="designs")
    name = models.CharField(max_length=120)
    code = models.CharField(max_length=40, blank=True)
    description = models.TextField(max_length=4000, blank=True)
    care_line = models.CharField(max_length=120, blank=True)
    # what an adviser or a local rule wants said beside it
    caution = models.CharField(max_length=200, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = DesignQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["workshop", "name"], name="design_name_once"),
        )

    def __str__(self) -> str:
        return self.name
