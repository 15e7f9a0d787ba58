"""Removing what was asked to be deleted, once its week is over."""

from django_tasks import task

from pricing.workshop_file.leaving import delete_what_is_due, something_is_due


@task()
def delete_what_was_asked() -> None:
    """Remove the workshops and accounts that are due."""
    delete_what_is_due()


def ask_for_deletions() -> None:
    """Queue it when a week is over; begun twice it finds nothing left to do."""
    if something_is_due():
        delete_what_was_asked.enqueue()
