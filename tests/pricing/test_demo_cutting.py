"""The demo's offcuts and cutting plans are what the services make of its recipes.

When a recipe of the demo was changed on purpose, write the file anew with REMAKE_DEMO_CUTTING=1 in
the environment of this test, and look at what moved.
"""

import os
import re
from pathlib import Path

import pytest
from django.conf import settings

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.offcuts.models import OffcutEntry
from pricing.workshop_file.demo import demo_document
from pricing.workshop_file.services import document_text, export_workshop, import_workshop
from tests.pricing.demo_cutting import make_cutting
from tests.pricing.demo_quotes import NEWEST

FILE = Path(settings.BASE_DIR) / "fixtures" / "demo" / "offcuts.json"
PARTS = ("cutting_plans", "offcuts")

pytestmark = pytest.mark.django_db


def test_the_file_holds_what_the_services_make(owner):
    document = demo_document(today=NEWEST)
    for key in PARTS:
        document.pop(key, None)
    workshop = import_workshop(document)
    make_cutting(workshop, owner)
    plans = CuttingPlan.objects.of(workshop)
    assert {plan.state for plan in plans} == {"done"}
    assert all(one["proven"] for plan in plans for one in plan.plans)
    assert OffcutEntry.objects.of(workshop).filter(plan__isnull=False).exists()
    made = export_workshop(workshop)
    text = without_instants(document_text({key: made[key] for key in PARTS}))
    if os.environ.get("REMAKE_DEMO_CUTTING"):
        FILE.write_text(text)
    assert FILE.read_text() == text


def without_instants(text: str) -> str:
    """When an entry was made is when this ran: in the file it is noon of its day."""
    return re.sub(
        r'("moved_on": "([0-9-]{10})".*?"made_at": ")[^"]*"', r'\1\2T12:00:00Z"', text, flags=re.S
    )
