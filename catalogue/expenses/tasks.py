"""Adding what has come due of repeating expenses, in every workshop."""

from django.utils import timezone
from django_tasks import task

from catalogue.expenses.models import Expense
from catalogue.expenses.services import repeat_expenses
from maker.workshop.models import Workshop


@task()
def repeat_expenses_of_all() -> None:
    """Add what is due; done twice it adds nothing."""
    today = timezone.localdate()
    repeating = Expense.objects.repeating().order_by().values("workshop")
    for workshop in Workshop.objects.filter(pk__in=repeating).order_by("pk"):
        repeat_expenses(workshop=workshop, today=today)


def ask_to_repeat_expenses() -> None:
    """Queue it."""
    repeat_expenses_of_all.enqueue()
