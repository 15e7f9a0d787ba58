"""The example workshops: a maker's shop with two years behind it, and one order costed by hand.

They come from fixtures/: `demo/*.json` are the parts of one workshop file, `worked_case.json`
is another. Each person who loads them has copies of her own.
"""

import datetime
import re
from pathlib import Path
from typing import Any

from django.conf import settings
from django.db import transaction

from catalogue.stock.models import StockEntry
from maker.accounts.models import Membership, User
from maker.calc.refusal import Refusal
from maker.calc.strict_json import WrongJson, parse
from maker.workshop.models import Workshop
from pricing.calc.spending.spend import month_of, months_later
from pricing.closed_months.services import close_as_of
from pricing.workshop_file.demo_receipt import attach_drawn_receipts
from pricing.workshop_file.removing import remove_workshop
from pricing.workshop_file.services import import_workshop

FIXTURES = Path(settings.BASE_DIR) / "fixtures"
DEMO_EMAIL = "penny@example.test"
DEMO_NAME = "Penny Farrow"
_TO_COME = (
    *("needed_on", "due_on", "valid_until", "until", "first_on", "last_on"),
    *("yes_by", "ready_on", "earliest_on", "held_on"),
)
# longer than a month and the days of the next until the maker of the example closes it
LATE_DAYS, CLOSED_ON, CLOSED_BY = 36, 4, datetime.time(19)
_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)


class ExamplesAreThere(Refusal):
    """She has the example workshops already."""


def demo_document(*, today: datetime.date) -> dict[str, Any]:
    """Return the demo workshop as one document whose newest day is at most six days old.

    Its days move by whole weeks, so that a Saturday stays a Saturday.
    """
    document: dict[str, Any] = {}
    for path in sorted((FIXTURES / "demo").glob("*.json")):
        for key, value in parse(path.read_bytes()).items():
            if isinstance(value, list):
                document[key] = [*document.get(key, []), *value]
            elif key in document:
                raise WrongJson(f"“{key}” is in two parts.", where=path.name)
            else:
                document[key] = value
    newest = max(datetime.date.fromisoformat(text[:10]) for text in _dated(document))
    by = datetime.timedelta(weeks=(today - newest).days // 7)
    return {key: _moved(value, by) for key, value in document.items()}


def _is_dated(key: str) -> bool:
    return key in ("until", "yes_by") or key.endswith(("_on", "_at", "_until", "_since"))


def _dated(value: Any) -> list[str]:
    """Return every day and instant that was over when the document was written."""
    found = []
    for key, part in value.items() if isinstance(value, dict) else enumerate(value):
        if isinstance(part, (dict, list)):
            found += _dated(part)
        elif isinstance(part, str) and isinstance(key, str) and _is_dated(key):
            found += [] if key in _TO_COME else [part]
    return found


def _moved(value: Any, by: datetime.timedelta) -> Any:
    """Return the document with every day and instant moved."""
    if isinstance(value, list):
        return [_moved(part, by) for part in value]
    if isinstance(value, dict):
        return {
            key: _moved_day(part, by)
            if isinstance(part, str) and _is_dated(key)
            else _moved(part, by)
            for key, part in value.items()
        }
    return value


def _moved_day(text: str, by: datetime.timedelta) -> str:
    return _DAY.sub(lambda day: (datetime.date.fromisoformat(day[0]) + by).isoformat(), text, 1)


def examples_of(owner: User) -> list[Workshop]:
    """Return the example workshops this person owns."""
    memberships = Membership.objects.of_user(owner).owners()
    return [row.workshop for row in memberships if row.workshop.is_demo]


@transaction.atomic
def load_examples(*, owner: User, today: datetime.date) -> list[Workshop]:
    """Give a person copies of both example workshops.

    Refused when she has examples already: a second click makes no second copy.
    """
    refuse_second_examples(owner)
    workshops = [
        import_workshop(document, owner=owner, is_demo=True)
        for document in example_documents(today=today)
    ]
    complete_example(workshops[0])
    return workshops


def complete_example(workshop: Workshop) -> None:
    """Add what cannot be in the file of the first example: papers drawn to its dates, closings."""
    attach_drawn_receipts(workshop)
    close_example_months(workshop)


def close_example_months(workshop: Workshop) -> None:
    """Close the months of the example until that of a receipt entered long after its date.

    Days move by whole weeks and months do not, so the closings cannot be in the file.
    """
    rows = StockEntry.objects.of(workshop).filter(kind=StockEntry.Kind.BOUGHT)
    late = [
        month_of(dated)
        for dated, entered in rows.values_list("moved_on", "made_at")
        if (entered.date() - dated).days > LATE_DAYS
    ]
    if not late:
        return
    last = max(late)
    for month in (months_later(last, -1), last):
        closed_on = months_later(month, 1).replace(day=CLOSED_ON)
        closed_at = datetime.datetime.combine(closed_on, CLOSED_BY, datetime.UTC)
        close_as_of(workshop=workshop, month=month, closed_at=closed_at)


def example_documents(*, today: datetime.date) -> tuple[dict[str, Any], Any]:
    """Return the documents of both example workshops, the large one first."""
    return demo_document(today=today), parse((FIXTURES / "worked_case.json").read_bytes())


def refuse_second_examples(owner: User) -> None:
    """Let one after the other ask for a person's examples. Errors: ExamplesAreThere."""
    User.objects.select_for_update().get(pk=owner.pk)
    if examples_of(owner):
        raise ExamplesAreThere("You already have the sample workshops.")


@transaction.atomic
def remove_examples(*, owner: User) -> list[str]:
    """Remove the example workshops a person owns, whole; return their names."""
    examples = examples_of(owner)
    for workshop in examples:
        remove_workshop(workshop=workshop)
    return [workshop.name for workshop in examples]


@transaction.atomic
def demo_person(*, password: str | None) -> tuple[User, bool]:
    """Return the demo's owner and whether she is new; a password given becomes hers."""
    person = User.objects.filter(email=DEMO_EMAIL).first()
    if person is None:
        return User.objects.create_user(DEMO_EMAIL, password, name=DEMO_NAME), True
    if password is not None and not person.check_password(password):
        person.set_password(password)
        person.save(update_fields=["password"])
    return person, False


@transaction.atomic
def remove_every_example() -> list[str]:
    """Remove all example workshops of the installation, and the demo's owner if that was all."""
    examples = list(Workshop.objects.demo().order_by("pk"))
    for workshop in examples:
        remove_workshop(workshop=workshop)
    person = User.objects.filter(email=DEMO_EMAIL).first()
    if person is not None and not person.memberships.exists():
        person.delete()
    return [workshop.name for workshop in examples]
