"""The example workshops, loaded once for all tests of a file that ask for them."""

from collections.abc import Iterator

import pytest
from django.core.management import call_command
from django.db import transaction
from pytest_django import DjangoDbBlocker

from maker.workshop.models import Workshop

DEMO = "Tamsel Bridge Paperworks"


@pytest.fixture(scope="module")
def _examples(django_db_setup: None, django_db_blocker: DjangoDbBlocker) -> Iterator[None]:
    """Load them inside a transaction: each test is a savepoint in it, and all of it is undone."""
    around = transaction.atomic()
    around._from_testcase = True  # as Django's own for tests: what must be outermost may be inside
    with django_db_blocker.unblock():
        around.__enter__()
        call_command("load_demo", password="glue-and-twine", verbosity=0)
    yield
    with django_db_blocker.unblock():
        transaction.set_rollback(True)
        around.__exit__(None, None, None)


@pytest.fixture
def demo(_examples: None, db: None) -> Workshop:
    """The large example workshop."""
    return Workshop.objects.get(name=DEMO)
