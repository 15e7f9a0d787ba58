"""Fixtures every test may use: three people, their workshop, signed-in clients."""

import gc
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import hypothesis
import pytest
from django.conf import settings
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext

from catalogue.calc.cutting import watch
from maker.accounts.models import Membership, User
from maker.troubles import guard
from maker.workshop.models import Workshop
from tests import factories
from tests.work import WorkClock

# plans and figures kept by another run would answer for planning that a test wants to see
settings.CACHES["plans"] = {"BACKEND": "django.core.cache.backends.dummy.DummyCache"}
settings.CACHES["figures"] = {"BACKEND": "django.core.cache.backends.dummy.DummyCache"}
# each sign-in of a test would else take a tenth of a second on purpose
settings.PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

# a busy machine must not end a request of a test; the limit itself is tried with servers of its own
settings.REQUEST_SECONDS = 0
settings.CHANGES_A_MINUTE = 0

# Random examples are not timed: a busy machine must not fail a sum. Where every run must end like
# the last one they are always the same; at home each run looks at new ones.
hypothesis.settings.register_profile("new examples", deadline=None)
hypothesis.settings.register_profile(
    "same examples", deadline=None, derandomize=True, database=None
)
hypothesis.settings.load_profile("same examples" if os.environ.get("CI") else "new examples")


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark what touches the database, so that one can ask for it: `-m database`."""
    for item in items:
        asks = {"db", "transactional_db"} & set(getattr(item, "fixturenames", ()))
        if asks or item.get_closest_marker("django_db"):
            item.add_marker("database")


def pytest_collection_finish() -> None:
    """Spare the garbage collector what stays to the end: each module and thousands of tests.

    And let it look less often: whole pages come and go between two of its usual looks.
    """
    gc.collect()
    gc.freeze()
    gc.collect()  # nearly nothing is left, which it measures the next full look against
    gc.set_threshold(10_000, 5, 5)


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Keep SQLite's test database in a file, as in use.

    In memory all threads would share one connection, and two requests of a page at the same
    time would meet inside one transaction.
    """
    if connection.vendor == "sqlite":
        folder = tmp_path_factory.mktemp("database")
        connection.settings_dict["TEST"]["NAME"] = str(folder / "test.sqlite3")


@pytest.fixture(scope="session")
def django_db_use_migrations(request: pytest.FixtureRequest) -> bool:
    """Return whether the tables come from the migrations, as in use, or straight from the models.

    The migrations take longer than most files' tests, so one file that is run alone goes without
    them, unless it is about them. `verify` runs many files.
    """
    if request.config.getoption("nomigrations"):
        return False
    items = request.session.items
    return len({item.path for item in items}) > 1 or any(
        item.get_closest_marker("migrations") for item in items
    )


@pytest.fixture(autouse=True)
def _plans_count_work(monkeypatch: pytest.MonkeyPatch) -> None:
    """Stop cutting plans after so much work, not after so many seconds of a busy machine."""
    monkeypatch.setattr(watch, "usual_clock", WorkClock())


@pytest.fixture(autouse=True)
def _time_may_be_travelled(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let a test set the clock back without being told so; the guard has tests of its own."""
    for name, value in (("wall", float), ("steady", float), ("ahead", 0.0)):
        monkeypatch.setattr(guard.clock, name, value)  # float() is 0.0


@pytest.fixture
def workshop(db: None) -> Workshop:
    """A workshop of the `owner`."""
    return factories.make_workshop(name="Marlow Paperworks", slug="marlow")


@pytest.fixture
def other_workshop(db: None) -> Workshop:
    """A workshop none of the three people belong to, but for the stranger."""
    return factories.make_workshop(name="Somebody Else", slug="else")


@pytest.fixture
def owner(workshop: Workshop) -> User:
    """Who may change everything."""
    return factories.make_member(workshop, Membership.Role.OWNER, "owner@example.test")


@pytest.fixture
def reader(workshop: Workshop) -> User:
    """Who may look, not change."""
    return factories.make_member(workshop, Membership.Role.READER, "reader@example.test")


@pytest.fixture(scope="session")
def empty_database(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An SQLite file as new as the code, to be copied: making one takes ten seconds and more."""
    folder = tmp_path_factory.mktemp("empty")
    own = {"DATA_DIR": str(folder), "DATABASE_URL": f"sqlite:///{folder}/pleat.sqlite3"}
    command = [sys.executable, "manage.py", "migrate", "-v0"]
    subprocess.run(command, check=True, cwd=settings.BASE_DIR, env={**os.environ, **own})
    return folder / "pleat.sqlite3"


@pytest.fixture
def helper_person(workshop: Workshop) -> User:
    """Who may change all but settings and people."""
    return factories.make_member(workshop, Membership.Role.HELPER, "helper@example.test")


@pytest.fixture
def stranger(other_workshop: Workshop) -> User:
    """Owner of another workshop; must see nothing of this one."""
    return factories.make_member(other_workshop, Membership.Role.OWNER, "stranger@example.test")


def _signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


@pytest.fixture
def client(owner: User) -> Client:
    """A browser of the owner."""
    return _signed_in(owner)


@pytest.fixture
def reader_client(reader: User) -> Client:
    """A browser of the reader."""
    return _signed_in(reader)


@pytest.fixture
def helper_client(helper_person: User) -> Client:
    """A browser of the helper."""
    return _signed_in(helper_person)


@pytest.fixture
def stranger_client(stranger: User) -> Client:
    """A browser of the stranger."""
    return _signed_in(stranger)


@pytest.fixture
def anonymous_client(db: None) -> Client:
    """A browser of nobody."""
    return Client()


@pytest.fixture
def count_queries() -> Callable[[], Any]:
    """Return a context manager that counts queries: `with count_queries() as q: ...; len(q)`."""

    @contextmanager
    def counting() -> Iterator[CaptureQueriesContext]:
        with CaptureQueriesContext(connection) as queries:
            yield queries

    return counting
