"""A process killed in the middle of saving a receipt leaves nothing half saved, and several
processes that record one receipt at once record it once.

The saving runs in a process of its own on a database file and is really killed (SIGKILL, no
clean-up) in the middle of its writes; afterwards the file is opened again.
"""

import os
import shutil
import signal
import sqlite3
import subprocess
import sys
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

import pytest

from tests.patience import PATIENCE_S

ROOT = Path(__file__).resolve().parents[2]

PREPARE = """
import datetime, os, signal
from decimal import Decimal
import django
django.setup()
from django.db import connection
from catalogue.materials.models import Material
from catalogue.purchases.models import Purchase, PurchaseLine
from catalogue.purchases.services import (
    ReceiptLineInput, ReceiptInput, change_draft, draft_purchase, record_purchase, reverse_purchase,
)
from catalogue.stock.models import StockEntry
from maker.workshop.models import Workshop
TODAY = datetime.date(2026, 6, 30)

def receipt(amount):
    materials = Material.objects.order_by("pk")
    ten, paid = Decimal(10), Decimal(amount)
    lines = [ReceiptLineInput(material=one, quantity=ten, amount=paid) for one in materials]
    return ReceiptInput(
        supplier=Workshop.objects.get().suppliers.get(), bought_on=TODAY, lines=lines,
        postage=Decimal("4.90"),
    )

def kill_at(statement, number):
    seen = [0]
    def counting(execute, sql, params, many, context):
        answer = execute(sql, params, many, context)
        if sql.startswith(statement):
            seen[0] += 1
            if seen[0] == number:
                os.kill(os.getpid(), signal.SIGKILL)
        return answer
    connection.execute_wrappers.append(counting)
"""

FILL = """
workshop = Workshop.objects.create(name="W", slug="w")
workshop.suppliers.create(name="S")
for number in range(8):
    workshop.materials.create(name=f"M{number}", kind="count")
draft_purchase(workshop=workshop, receipt=receipt("1.00"))
"""


def run(script: str, database: Path) -> subprocess.CompletedProcess[str]:
    environment = {
        **os.environ,
        "DATABASE_URL": f"sqlite:///{database}",
        "DJANGO_SETTINGS_MODULE": "maker.settings",
        "SECRET_KEY": "only for this test",
        "PYTHONPATH": str(ROOT),
    }
    return subprocess.run(
        [sys.executable, "-c", PREPARE + script],
        env=environment,
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
    )


def everything_in(database: Path) -> list[str]:
    """Return the whole database as text, after SQLite itself has put it right."""
    with closing(sqlite3.connect(database)) as connection:
        return list(connection.iterdump())


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory, empty_database: Path) -> Path:
    """A database with eight materials and a draft of eight lines."""
    database = tmp_path_factory.mktemp("killed") / "workshop.sqlite3"
    shutil.copy(empty_database, database)
    done = run(FILL, database)
    assert done.returncode == 0, done.stderr
    return database


RECORD = "record_purchase(purchase=Purchase.objects.get(), today=TODAY)"


@pytest.mark.slow
@pytest.mark.parametrize(
    ("statement", "number"),
    [
        ('UPDATE "catalogue_purchaseline"', 1),
        ('INSERT INTO "catalogue_stockentry"', 1),
        ('UPDATE "catalogue_material"', 4),
        ('UPDATE "catalogue_purchase" ', 1),
    ],
)
def test_killed_while_recording(filled: Path, statement: str, number: int) -> None:
    before = everything_in(filled)
    killed = run(f"kill_at({statement!r}, {number})\n{RECORD}", filled)
    assert killed.returncode == -signal.SIGKILL
    assert everything_in(filled) == before


@pytest.mark.slow
@pytest.mark.parametrize(
    ("statement", "number"),
    [
        ('DELETE FROM "catalogue_purchaseline"', 1),
        ('INSERT INTO "catalogue_purchaseline"', 1),
    ],
)
def test_killed_while_changing_a_draft(filled: Path, statement: str, number: int) -> None:
    before = everything_in(filled)
    change = "change_draft(purchase=Purchase.objects.get(), receipt=receipt('2.00'), edit_number=0)"
    killed = run(f"kill_at({statement!r}, {number})\n{change}", filled)
    assert killed.returncode == -signal.SIGKILL
    assert everything_in(filled) == before


RECEIPTS = """
import uuid
from catalogue.purchases.from_file import ImportedReceipt, import_receipts
import_receipts(
    workshop=Workshop.objects.get(),
    receipts=[ImportedReceipt(receipt=receipt("1.00"), record=True)] * 3,
    key=uuid.UUID(int=7),
    today=TODAY,
)
"""
MATERIALS = """
from catalogue.materials.services import ImportedMaterial, PackInput, import_materials
packs = [PackInput(quantity=Decimal(24), price=Decimal("3.50"))]
workshop = Workshop.objects.get()
known = list(Material.objects.select_related("workshop").order_by("pk")[:4])
new = [Material(workshop=workshop, name=f"New {at}", kind="count") for at in range(3)]
import_materials(
    workshop=workshop,
    materials=[ImportedMaterial(material=one, packs=packs) for one in [*new, *known]],
)
"""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("what", "statement", "number"),
    [
        (RECEIPTS, 'INSERT INTO "catalogue_stockentry"', 1),
        (RECEIPTS, 'UPDATE "catalogue_material"', 4),
        (MATERIALS, 'INSERT INTO "catalogue_pack"', 1),
        (MATERIALS, 'UPDATE "catalogue_material"', 2),
    ],
)
def test_killed_while_a_file_comes_in(filled: Path, what: str, statement: str, number: int) -> None:
    before = everything_in(filled)
    killed = run(f"kill_at({statement!r}, {number})\n{what}", filled)
    assert killed.returncode == -signal.SIGKILL, killed.stderr
    assert everything_in(filled) == before


@pytest.mark.slow
def test_afterwards_it_can_be_recorded_and_killed_while_taken_back(filled: Path) -> None:
    done = run(RECORD, filled)
    assert done.returncode == 0, done.stderr
    recorded = everything_in(filled)
    assert len([row for row in recorded if 'INTO "catalogue_stockentry"' in row]) == 8
    back = "reverse_purchase(purchase=Purchase.objects.get())"
    killed = run(f"kill_at('INSERT INTO \"catalogue_stockentry\"', 3)\n{back}", filled)
    assert killed.returncode == -signal.SIGKILL
    assert everything_in(filled) == recorded


# Each says that it is ready and waits for the others, so that nobody comes late on a busy machine.
AT_ONCE = """
import time
from pathlib import Path
from maker.calc.refusal import Refusal
connection.ensure_connection()
gate = Path({gate!r})
(gate / str(os.getpid())).touch()
for _ in range(200_000):
    if len(list(gate.iterdir())) == {hands}:
        break
    time.sleep(0.001)
else:
    raise SystemExit("the others did not come")
try:
    record_purchase(purchase=Purchase.objects.get(), today=TODAY)
    print("recorded")
except Refusal as refusal:
    print(type(refusal).__name__)
"""


@pytest.mark.slow
def test_of_three_clicks_at_once_one_records(tmp_path: Path, empty_database: Path) -> None:
    database = tmp_path / "workshop.sqlite3"
    shutil.copy(empty_database, database)
    done = run(FILL, database)
    assert done.returncode == 0, done.stderr
    gate = tmp_path / "gate"
    gate.mkdir()
    script = AT_ONCE.format(gate=str(gate), hands=3)
    with ThreadPoolExecutor(3) as hands:
        clicks = list(hands.map(lambda _: run(script, database), range(3)))
    assert [click.stderr for click in clicks if click.returncode] == []
    said = sorted(click.stdout.strip() for click in clicks)
    assert said == ["NotADraft", "NotADraft", "recorded"]
    stored = [row for row in everything_in(database) if 'INTO "catalogue_stockentry"' in row]
    assert len(stored) == 8
