"""The demo's customers and quotes are what the services make of its costs, to the last cent.

When a cost of the demo was changed on purpose, write the two files anew with
REMAKE_DEMO_QUOTES=1 in the environment of this test, and look at what moved.
"""

import os
from pathlib import Path

import pytest
from django.conf import settings

from pricing.workshop_file.demo import demo_document
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests.pricing.demo_quotes import NEWEST, make_quotes

DEMO = Path(settings.BASE_DIR) / "fixtures" / "demo"
PARTS = {"customers.json": ("customers",), "quotes.json": ("document_series", "quotes")}

pytestmark = pytest.mark.django_db


def test_the_files_hold_what_the_services_make(owner):
    document = demo_document(today=NEWEST)
    for keys in PARTS.values():
        for key in keys:
            del document[key]
    workshop = import_workshop(document)
    make_quotes(workshop, owner)
    made = export_workshop(workshop)
    for name, keys in PARTS.items():
        text = document_text({key: made[key] for key in keys})
        if os.environ.get("REMAKE_DEMO_QUOTES"):
            (DEMO / name).write_text(text)
        assert (DEMO / name).read_text() == text, name
