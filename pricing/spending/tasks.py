"""Keeping the sums of months that are over, in every workshop where that saves time."""

from django.db.models import Count
from django.utils import timezone
from django_tasks import task

from catalogue.stock.models import StockEntry
from maker.workshop.models import Workshop
from pricing.spending.kept import WORTH_KEEPING, keep_sums


@task()
def keep_sums_of_all() -> None:
    """Keep those that are not kept yet, or do not hold any more."""
    large = (
        StockEntry.objects.order_by()
        .values("material__workshop")
        .annotate(entries=Count("pk"))
        .filter(entries__gte=WORTH_KEEPING)
        .values("material__workshop")
    )
    today = timezone.localdate()
    for workshop in Workshop.objects.filter(pk__in=large).order_by("pk"):
        keep_sums(workshop=workshop, today=today)


def ask_to_keep_sums() -> None:
    """Queue it; done twice it finds everything kept."""
    keep_sums_of_all.enqueue()
