"""The demo's prices, customers and quotes are what the services make of its costs, to the cent.

When a cost of the demo was changed on purpose, write the three files anew with
REMAKE_DEMO_QUOTES=1 in the environment of this test, and look at what moved.
"""

import os
from pathlib import Path

import pytest
from django.conf import settings

from pricing.workshop_file.demo import demo_document
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests.pricing.demo_prices import prices_with_figures
from tests.pricing.demo_quotes import NEWEST, make_quotes

DEMO = Path(settings.BASE_DIR) / "fixtures" / "demo"
# lists in files of their own that speak of customers and quotes
RESTING = ("orders", "enquiries", "fairs", "finished_items", "timed_runs")
PARTS = {"customers.json": ("customers",), "quotes.json": ("document_series", "quotes")}

pytestmark = pytest.mark.django_db


def test_the_files_hold_what_the_services_make(owner):
    document = demo_document(today=NEWEST)
    for key in (*RESTING, *(key for keys in PARTS.values() for key in keys)):
        document.pop(key, None)
    workshop = import_workshop(document)
    make_quotes(workshop, owner)
    made = export_workshop(workshop)
    for name, keys in PARTS.items():
        hold(name, {key: made[key] for key in keys})


def test_prices_keep_what_they_were_set_against_on_their_day(owner):
    hold("prices.json", {"prices": prices_with_figures(owner)})


def hold(name, document):
    """Compare a file with what it must hold, or write it when that is wanted."""
    text = document_text(document)
    if os.environ.get("REMAKE_DEMO_QUOTES"):
        (DEMO / name).write_text(text)
    assert (DEMO / name).read_text() == text, name
