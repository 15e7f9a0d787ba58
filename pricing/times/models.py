"""Runs timed at the bench: one step, how long it took and how many came out."""

import datetime

from django.core.validators import MinValueValidator
from django.db import models

from maker.workshop.models import Workshop


class TimedRunQuerySet(models.QuerySet["TimedRun"]):
    """Timed runs of a workshop."""

    def of(self, workshop: Workshop) -> "TimedRunQuerySet":
        """Those of one workshop's designs."""
        return self.filter(design__workshop=workshop)

    def under_way(self) -> "TimedRunQuerySet":
        """Those not counted yet, running or stopped, but for what was thrown away."""
        return self.filter(finished_at__isnull=True, is_left_out=False)

    def running(self) -> "TimedRunQuerySet":
        """Those whose watch runs."""
        return self.filter(running_since__isnull=False)

    def finished(self) -> "TimedRunQuerySet":
        """Those that were counted."""
        return self.filter(finished_at__isnull=False)

    def with_names(self) -> "TimedRunQuerySet":
        """With the design, the person and the order it was for, in the same query."""
        return self.select_related("design", "timed_by", "batch__order")

    def oldest_first(self) -> "TimedRunQuerySet":
        """In the order they were done."""
        return self.order_by("finished_at", "pk")

    def newest_first(self) -> "TimedRunQuerySet":
        """The last one first."""
        return self.order_by("-started_at", "-pk")


class TimedRun(models.Model):
    """One run of one step. Steps are known by name, because a recipe is saved whole.

    `worked_seconds` are those before the last stop; while it runs, those since `running_since`
    come on top. A run left out stays to be seen but counts for nothing; left out before it was
    counted, it was thrown away. Of the `count` that came out, `rejects` are no good.
    """

    design = models.ForeignKey("catalogue.Design", on_delete=models.CASCADE, related_name="runs")
    # the batch it was worked for; empty: none in particular
    batch = models.ForeignKey(
        "pricing.FinishedBatch",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        related_name="timed_runs",
    )
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

    def seconds_at(self, now: datetime.datetime) -> int:
        """Return the seconds worked until an instant; a clock that was set back adds none."""
        if self.running_since is None:
            return self.worked_seconds
        # subtracted in UTC: two instants of one zone would ignore that its clocks were changed
        since = self.running_since.astimezone(datetime.UTC)
        running = (now.astimezone(datetime.UTC) - since).total_seconds()
        return self.worked_seconds + max(round(running), 0)
