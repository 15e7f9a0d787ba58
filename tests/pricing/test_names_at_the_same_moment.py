"""A name that is taken in the same moment is explained, not an error page."""

from decimal import Decimal
from typing import Any

import pytest

from maker.calc.refusal import Refusal
from maker.workshop.models import Workshop
from pricing.channels.models import Channel
from pricing.channels.services import save_channel
from pricing.price_tags.models import LabelSheet
from pricing.price_tags.services import save_label_sheet
from tests.at_once import at_once
from tests.factories import make_workshop

pytestmark = pytest.mark.django_db(transaction=True)


def a_channel(workshop: Workshop) -> Channel:
    channel = Channel(workshop=Workshop.objects.get(pk=workshop.pk), name="Fair")
    return save_channel(channel=channel, tiers=[{"margin": Decimal("0.3")}], edit_number=None)


def a_label_sheet(workshop: Workshop) -> LabelSheet:
    sizes = {"page_width_mm": 210, "page_height_mm": 297, "columns": 3, "rows": 8}
    sizes |= {"label_width_mm": 60, "label_height_mm": 30, "left_mm": 5, "top_mm": 5}
    sizes |= {"pitch_x_mm": 62, "pitch_y_mm": 32}
    mine = Workshop.objects.get(pk=workshop.pk)
    return save_label_sheet(sheet=LabelSheet(workshop=mine, name="Mine", **sizes))


@pytest.mark.parametrize("make", [a_channel, a_label_sheet])
def test_a_double_click_makes_one_and_explains_the_other(make: Any) -> None:
    workshop = make_workshop()
    results = at_once(*[lambda: make(workshop)] * 4)
    refused = [result for result in results if isinstance(result, Refusal)]
    assert len(refused) == 3
    assert all("You already have" in refusal.message for refusal in refused)
