"""Runs timed at the bench: one step, how long it took and how many came out."""

from django.core.validators import MinValueValidator
from django.db import models

from maker.workshop.models import Workshop


class TimedRunQuerySet(models.QuerySet["TimedRun"]):
    """Timed runs of a workshop."""

    def of(self, workshop: Workshop) -> "TimedRunQuerySet":
        """Those of one workshop's designs."""
        return self.filter(design__workshop=workshop)

    def under_way(self) -> "TimedRunQuerySet":
        """Those not counted yet, running or stopped."""
        return self.filter(finished_at__isnull=True)

    def finished(self) -> "TimedRunQuerySet":
        """Those that were counted."""
        return self.filter(finished_at__isnull=False)

    def oldest_first(self) -> "TimedRunQuerySet":
        """In the order they were done."""
        return self.order_by("finished_at", "pk")

    def newest_first(self) -> "TimedRunQuerySet":
        """The last one first."""
        return self.order_by("-started_at", "-pk")


class TimedRun(models.Model):
    """One run of one step. Steps are known by name, because a recipe is saved whole.

    `worked_seconds` are those before the last stop; while it runs, those since `running_since`
    come on top. A run left out stays to be seen but counts for nothing.
    """

    design = models.ForeignKey("catalogue.Design", on_delete=models.CASCADE, related_name="runs")
    step_name = models.CharField(max_length=120)
    # what a step is counted by, as in the recipe when it was timed (made, sheet, pass, job ...)
    basis = models.CharField(max_length=10)
    started_at = models.DateTimeField()
    running_since = models.DateTimeField(null=True, blank=True)
    worked_seconds = models.PositiveIntegerField(default=0)
    finished_at = models.DateTimeField(null=True, blank=True)
    count = models.PositiveIntegerField(null=True, blank=True, validators=[MinValueValidator(1)])
    rejects = models.PositiveIntegerField(default=0)
    is_left_out = models.BooleanField(default=False)
    note = models.CharField(max_length=200, blank=True)
    timed_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    form_key = models.UUIDField(null=True, blank=True, unique=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = TimedRunQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(finished_at__isnull=True)
                | models.Q(running_since__isnull=True, count__gte=1),
                name="finished_run_is_counted",
            ),
        )

    def __str__(self) -> str:
        return self.step_name
