"""A process killed in the middle of saving a recipe, sending a quote or planning its order leaves
everything as it was.

It runs in a process of its own on a database file and is really killed (SIGKILL, no clean-up) in
the middle of its writes; afterwards the file is opened again.
"""

import shutil
import signal
from pathlib import Path

import pytest

from tests.catalogue.test_killed_while_recording import everything_in, run

LOAD = """
from django.utils import timezone
from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.services import save_recipe
from maker.accounts.models import User
from pricing.orders.services import accept
from pricing.quotes.models import Quote
from pricing.quotes.sending import send_quote
from tests.factories import make_recipe
from tests.pricing.quotes import make_line, make_quote, sent_quote
"""
FILL = """
workshop = Workshop.objects.create(name="W", slug="w")
User.objects.create(email="ada@example.test", name="Ada")
version = make_recipe(workshop)
draft, waiting = make_quote(workshop), make_quote(workshop)
for quote in (draft, waiting):
    make_line(quote, version, 3)
sent_quote(waiting, User.objects.get())
make_recipe(workshop)
"""
SAVE = """
version = DesignVersion.objects.with_recipe().order_by("pk").last()
document = recipe_document(version)
steps = [*document["steps"], {**document["steps"][0], "name": "dry"}]
save_recipe(version=version, document={**document, "steps": steps}, edit_number=0, by=None)
"""
SEND = """
draft = Quote.objects.with_people().get(state="draft")
send_quote(quote=draft, by=User.objects.get(), today=timezone.localdate())
"""
ACCEPT = """
waiting = Quote.objects.with_people().get(state="sent")
day = timezone.localdate()
accept(quote=waiting, who="Ada", on=day, today=day)
"""


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory, empty_database: Path) -> Path:
    """A database with two recipes, a draft of a quote and one that waits for its answer."""
    database = tmp_path_factory.mktemp("killed") / "workshop.sqlite3"
    shutil.copy(empty_database, database)
    done = run(LOAD + FILL, database)
    assert done.returncode == 0, done.stderr
    return database


@pytest.mark.slow
@pytest.mark.parametrize(
    ("doing", "statement", "number"),
    [
        (SAVE, 'INSERT INTO "catalogue_recipechange"', 1),
        (SAVE, 'DELETE FROM "catalogue_step"', 1),
        (SAVE, 'INSERT INTO "catalogue_step"', 1),
        (SAVE, 'UPDATE "catalogue_designversion"', 1),
        (SEND, 'UPDATE "pricing_documentseries"', 1),
        (SEND, 'UPDATE "pricing_quote"', 1),
        (SEND, 'UPDATE "pricing_quoteline"', 1),
        (ACCEPT, 'UPDATE "pricing_quote"', 1),
        (ACCEPT, 'INSERT INTO "pricing_order"', 1),
        (ACCEPT, 'INSERT INTO "pricing_orderneed"', 1),
    ],
)
def test_killed_in_the_midst_of_it(filled: Path, doing: str, statement: str, number: int) -> None:
    before = everything_in(filled)
    killed = run(f"{LOAD}kill_at({statement!r}, {number})\n{doing}", filled)
    assert killed.returncode == -signal.SIGKILL, killed.stderr
    assert everything_in(filled) == before
