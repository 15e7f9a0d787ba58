"""Work too slow for a page, as people see it, and signs of life of the processes that do it."""

from datetime import timedelta
from typing import TYPE_CHECKING

from django.db import models
from django.db.models.functions import Now

if TYPE_CHECKING:
    from maker.workshop.models import Workshop

# A worker says four times in this that it lives; longer silence means it was killed.
SILENCE = timedelta(seconds=20)


class WorkerQuerySet(models.QuerySet["Worker"]):
    """Workers by their last sign of life, all by the clock of the database."""

    def alive(self) -> "WorkerQuerySet":
        """Those heard of lately.

        A sign from the future was given before that clock was set back, and says nothing.
        """
        return self.filter(seen_at__gte=Now() - SILENCE, seen_at__lte=Now() + SILENCE)


class Worker(models.Model):
    """One process that does slow work; `seen_at` by the database's clock, as machines' differ."""

    worker_id = models.CharField(max_length=64, unique=True)
    seen_at = models.DateTimeField()

    objects = WorkerQuerySet.as_manager()

    def __str__(self) -> str:
        return self.worker_id


class WorkQuerySet(models.QuerySet["Work"]):
    """Slow work of a workshop."""

    def of(self, workshop: "Workshop") -> "WorkQuerySet":
        """That of one workshop."""
        return self.filter(workshop=workshop)

    def under_way(self) -> "WorkQuerySet":
        """What waits or is being done."""
        return self.filter(state__in=(Work.State.WAITING, Work.State.WORKING))

    def ended(self) -> "WorkQuerySet":
        """What is over, however it ended."""
        return self.exclude(state__in=(Work.State.WAITING, Work.State.WORKING))

    def in_short(self) -> "WorkQuerySet":
        """Without what may be megabytes."""
        return self.defer("given", "data", "file")

    def newest_first(self) -> "WorkQuerySet":
        """The last asked for first."""
        return self.order_by("-asked_at", "-pk")


class Work(models.Model):
    """One piece of slow work: what was asked, how far it is, how it ended.

    `runs` is the dotted name of the function that does it, `given` what that takes: ids and plain
    values. Another process works on it: `stop_asked` says that it should stop. Whose it is now is
    known by `begun_at`. It is kept for some days after its end, and its file with it.
    """

    class Kind(models.TextChoices):
        IMPORT = "import", "import"
        PDF = "pdf", "PDF"
        FIGURES = "figures", "figures"
        EXPORT = "export", "spreadsheet"
        EXAMPLES = "examples", "examples"

    class State(models.TextChoices):
        WAITING = "waiting", "waiting"
        WORKING = "working", "in progress"
        DONE = "done", "done"
        STOPPED = "stopped", "stopped"
        REFUSED = "refused", "not possible"
        FAILED = "failed", "failed"

    # what only an editor may start, stop or try again
    WRITING = frozenset({Kind.IMPORT, Kind.EXAMPLES})

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="slow_work"
    )
    kind = models.CharField(max_length=10, choices=Kind)
    title = models.CharField(max_length=200)
    runs = models.CharField(max_length=200)
    given = models.JSONField()
    # the page it was started on: what is wrong is put right there
    came_from = models.CharField(max_length=2000)
    # the same form sent twice, or the same question asked again, is one piece of work
    form_key = models.UUIDField(null=True, blank=True)
    asked_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    asked_at = models.DateTimeField(auto_now_add=True)
    state = models.CharField(max_length=10, choices=State, default=State.WAITING)
    # of nothing: nobody knows yet how much there is to do
    done = models.PositiveIntegerField(default=0)
    of = models.PositiveIntegerField(default=0)
    stage = models.CharField(max_length=200, blank=True)
    stop_asked = models.BooleanField(default=False)
    begun_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    # why it was refused; or what is to be said now that it is done, as pairs of level and text
    refusal = models.TextField(blank=True)
    says = models.JSONField(default=list, blank=True)
    # where it leads to when it is done
    leads_to = models.CharField(max_length=2000, blank=True)
    leads_to_label = models.CharField(max_length=80, blank=True)
    leads_at_once = models.BooleanField(default=False)
    # what a page shows of the result
    data = models.JSONField(null=True, blank=True)
    file = models.BinaryField(null=True, blank=True)
    file_name = models.CharField(max_length=150, blank=True)
    file_type = models.CharField(max_length=120, blank=True)
    file_bytes = models.PositiveIntegerField(default=0)

    objects = WorkQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("workshop", "form_key"), name="a_form_starts_work_once"
            ),
        )
        indexes = (models.Index(fields=("workshop", "-asked_at"), name="work_newest_first"),)

    def __str__(self) -> str:
        return self.title

    @property
    def has_file(self) -> bool:
        """Whether it ended with a file to fetch."""
        return self.state == self.State.DONE and bool(self.file_name)

    @property
    def is_under_way(self) -> bool:
        """Whether it waits or is being done."""
        return self.state in (self.State.WAITING, self.State.WORKING)

    @property
    def is_writing(self) -> bool:
        """Whether it changes what the workshop keeps, which a viewer may not."""
        return self.kind in self.WRITING


class WorkPart(models.Model):
    """A piece of a long file that a piece of work made, so that it is never in memory whole."""

    work = models.ForeignKey(Work, on_delete=models.CASCADE, related_name="parts")
    place = models.PositiveIntegerField()
    content = models.BinaryField()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=("work", "place"), name="a_part_of_a_file_is_there_once"
            ),
        )

    def __str__(self) -> str:
        return f"{self.work_id}, {self.place}"
