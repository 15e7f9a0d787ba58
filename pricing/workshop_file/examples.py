"""The example workshops as slow work: opened empty at once, filled by a worker."""

import datetime

from django.db import transaction
from django.urls import reverse

from maker.accounts.models import User
from maker.slow_work.doing import Ending, Outcome, TakenOver, Watch, name_of
from maker.slow_work.models import Work
from maker.slow_work.services import ask_work
from maker.workshop.models import Workshop
from pricing.workshop_file.demo import (
    ExamplesAreThere,
    complete_example,
    example_documents,
    examples_of,
    refuse_second_examples,
)
from pricing.workshop_file.services import begin_workshop, fill_workshop, import_workshop


def ask_for_examples(*, owner: User, today: datetime.date) -> Work:
    """Open the first example workshop, empty, and have both filled.

    A second click leads to what the first one began. Errors: ExamplesAreThere.
    """
    try:
        return _asked(owner, today)
    except ExamplesAreThere:
        begun = Work.objects.filter(
            workshop__in=examples_of(owner), runs=name_of(fill_examples)
        ).exclude(state=Work.State.DONE)
        if work := begun.in_short().newest_first().first():
            return work
        raise


@transaction.atomic
def _asked(owner: User, today: datetime.date) -> Work:
    refuse_second_examples(owner)
    document, _ = example_documents(today=today)
    workshop = begin_workshop(document, name=None, owner=owner, is_demo=True)
    return ask_work(
        workshop=workshop,
        kind=Work.Kind.EXAMPLES,
        title="Load the example workshops",
        doing=fill_examples,
        given={"today": today.isoformat()},
        came_from=reverse("maker:workshop_list"),
        by=owner,
        of=2,
    )


def fill_examples(work: Work, watch: Watch) -> Ending:
    """Fill the first example workshop, and make the second one."""
    watch.look(0, 2, "Reading the examples")
    documents = example_documents(today=datetime.date.fromisoformat(work.given["today"]))
    watch.look(1, 2, "Saving the examples", now=True)

    def ending() -> Outcome:
        workshop = Workshop.objects.select_for_update().filter(pk=work.workshop_id).first()
        if workshop is None:
            # removed in the meantime, and the work with it
            raise TakenOver
        fill_workshop(workshop, documents[0])
        complete_example(workshop)
        import_workshop(documents[1], owner=work.asked_by, is_demo=True)
        return Outcome(
            says=[("success", "The example workshops are loaded. Try things out in them.")],
            leads_to=reverse("pricing:home", args=[workshop.slug]),
            leads_to_label=f"Open {workshop}",
        )

    return ending
