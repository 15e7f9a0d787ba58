"""Cutting plans that were asked for: the job, how far the work is, and the plan."""

from django.db import models

from maker.workshop.models import Workshop


class CuttingPlanQuerySet(models.QuerySet["CuttingPlan"]):
    """Cutting plans of a workshop."""

    def of(self, workshop: Workshop) -> "CuttingPlanQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def newest_first(self) -> "CuttingPlanQuerySet":
        """The last asked for first."""
        return self.order_by("-asked_at", "-pk")

    def in_short(self) -> "CuttingPlanQuerySet":
        """Without the jobs and drawings, which may be megabytes."""
        return self.defer("jobs", "plans")

    def under_way(self) -> "CuttingPlanQuerySet":
        """Those still waiting for a plan, or being worked on."""
        return self.filter(state__in=(CuttingPlan.State.WAITING, CuttingPlan.State.WORKING))


class CuttingPlan(models.Model):
    """One cutting plan. `jobs` never change; `plans` may get better until it is ready.

    The work may be done by another process: `cancel_asked` says that it should stop. Who works on
    it is known by `started_at`.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        WORKING = "working", "working"
        DONE = "done", "ready"
        CANCELLED = "cancelled", "stopped"
        REFUSED = "refused", "not possible"

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="cutting_plans"
    )
    name = models.CharField(max_length=120)
    # what was asked, by name: designs with quantities, materials, pieces typed in, settings
    asked = models.JSONField()
    # one job for each set of sheets that share pieces, and one for each reel material
    jobs = models.JSONField()
    # what tells the jobs apart from others, so that the same ones are planned once
    content_key = models.CharField(max_length=64, blank=True, db_index=True)
    plans = models.JSONField(null=True, blank=True)
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    refusal = models.TextField(blank=True)
    # how far: stage in words, the best value and the bound so far, 0 to 100
    stage = models.CharField(max_length=200, blank=True)
    percent = models.PositiveSmallIntegerField(default=0)
    seconds_allowed = models.PositiveSmallIntegerField(default=30)
    cancel_asked = models.BooleanField(default=False)
    asked_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    asked_at = models.DateTimeField(auto_now_add=True)
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    # sheets taken from stock when it was cut; the movements carry keys made from this one
    cut_on = models.DateField(null=True, blank=True)
    cut_key = models.UUIDField(null=True, blank=True)
    form_key = models.UUIDField(null=True, blank=True, unique=True)

    objects = CuttingPlanQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=~models.Q(state="done") | models.Q(plans__isnull=False),
                name="a_ready_plan_is_there",
            ),
        )

    def __str__(self) -> str:
        return self.name
