"""The designs she makes; what a version is made of is in `catalogue.recipes`."""

from django.core.validators import MinValueValidator
from django.db import models

from catalogue.recipes.models import DesignVersion
from maker.workshop.models import ArchivableQuerySet


class DesignQuerySet(ArchivableQuerySet["Design"]):
    """Designs of a workshop."""

    def matching(self, text: str) -> "DesignQuerySet":
        """Those whose name or code holds the text."""
        return self.filter(models.Q(name__icontains=text) | models.Q(code__icontains=text))

    def with_versions(self) -> "DesignQuerySet":
        """With `newest` (number), `piece_count` and `step_count` of the newest version."""
        newest = DesignVersion.objects.filter(design=models.OuterRef("pk")).newest_first()

        def count(rows: str) -> models.Subquery:
            counted = newest.annotate(rows=models.Count(rows, distinct=True))
            return models.Subquery(counted.values("rows")[:1])

        return self.annotate(
            newest=models.Max("versions__number"),
            piece_count=count("pieces"),
            step_count=count("steps"),
        )


class Design(models.Model):
    """A thing she makes and sells; its recipe is in its versions."""

    workshop = models.ForeignKey("maker.Workshop", on_delete=models.CASCADE, related_name="designs")
    name = models.CharField(max_length=120)
    code = models.CharField(max_length=40, blank=True)
    description = models.TextField(max_length=4000, blank=True)
    care_line = models.CharField(max_length=120, blank=True)
    # what an adviser or a local rule wants said beside it
    caution = models.CharField(max_length=200, blank=True)
    # the usual batch: how many good ones are made at once
    made_at_once = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1)])
    retired_on = models.DateField(null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = DesignQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["workshop", "name"], name="design_name_once"),
            models.CheckConstraint(
                condition=models.Q(made_at_once__gte=1), name="design_batch_from_one"
            ),
        )

    def __str__(self) -> str:
        return self.name


class DesignPhoto(models.Model):
    """A photo of the finished item, with what it shows in words."""

    design = models.ForeignKey("catalogue.Design", on_delete=models.CASCADE, related_name="photos")
    picture = models.ForeignKey("maker.StoredPicture", on_delete=models.CASCADE, related_name="+")
    words = models.CharField(max_length=120, blank=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["design", "picture"], name="design_photo_once"),
        )

    def __str__(self) -> str:
        return self.words or str(self.picture)
