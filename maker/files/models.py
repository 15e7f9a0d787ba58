"""One row for each picture or PDF of a workshop; its bytes lie in the storage, by their content."""

from typing import TYPE_CHECKING

from django.db import models

if TYPE_CHECKING:
    from maker.workshop.models import Workshop


class StoredPictureQuerySet(models.QuerySet["StoredPicture"]):
    """Pictures of a workshop."""

    def of(self, workshop: "Workshop") -> "StoredPictureQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)


class StoredPicture(models.Model):
    """A picture, always a JPEG of ours: `digest` is the SHA-256 of its bytes, and its name."""

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="pictures"
    )
    digest = models.CharField(max_length=64)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    size = models.PositiveIntegerField()
    added_at = models.DateTimeField(auto_now_add=True)

    objects = StoredPictureQuerySet.as_manager()

    class Meta:
        constraints = (models.UniqueConstraint(fields=["workshop", "digest"], name="picture_once"),)

    def __str__(self) -> str:
        return self.digest[:12]

    @property
    def place(self) -> str:
        """Its name in the storage."""
        return place_of(self.digest)


class StoredPdfQuerySet(models.QuerySet["StoredPdf"]):
    """PDFs of a workshop."""

    def of(self, workshop: "Workshop") -> "StoredPdfQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)


class StoredPdf(models.Model):
    """A PDF as it was sent: `digest` is the SHA-256 of its bytes, and its name."""

    workshop = models.ForeignKey("maker.Workshop", on_delete=models.CASCADE, related_name="pdfs")
    digest = models.CharField(max_length=64)
    pages = models.PositiveSmallIntegerField()
    size = models.PositiveIntegerField()
    added_at = models.DateTimeField(auto_now_add=True)

    objects = StoredPdfQuerySet.as_manager()

    class Meta:
        constraints = (models.UniqueConstraint(fields=["workshop", "digest"], name="pdf_once"),)

    def __str__(self) -> str:
        return self.digest[:12]

    @property
    def place(self) -> str:
        """Its name in the storage."""
        return place_of(self.digest, "pdf")


def place_of(digest: str, ending: str = "jpg") -> str:
    """Return the name in the storage of what has a digest."""
    return f"{digest[:2]}/{digest}.{ending}"
