"""Signs of life of the processes that do slow work."""

from datetime import timedelta

from django.db import models
from django.db.models.functions import Now

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
