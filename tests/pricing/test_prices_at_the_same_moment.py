"""A price rests on the recipe it was worked out from, whoever saves what meanwhile."""

import copy
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection

from catalogue.recipes.inputs import recipe_document
from catalogue.recipes.models import DesignVersion
from catalogue.recipes.services import RecipeMovedOn, save_recipe
from maker.accounts.models import User
from maker.workshop.models import Workshop
from pricing.calc.costing.rates import Ask
from pricing.channels.models import Channel
from pricing.prices.models import PriceListEntry
from pricing.prices.services import set_price
from tests.at_once import at_once
from tests.factories import make_channel, make_member, make_recipe, make_workshop

pytestmark = pytest.mark.django_db(transaction=True)


class Scene:
    """A design, a channel and a person, each read anew for every use, as requests do."""

    def __init__(self) -> None:
        self.workshop = make_workshop()
        self.version_id = make_recipe(self.workshop).pk
        self.channel_id = make_channel(self.workshop, name="Fair").pk
        self.owner_id = make_member(self.workshop, "owner").pk

    def version(self) -> DesignVersion:
        return DesignVersion.objects.with_recipe().get(pk=self.version_id)

    def ask(self, price: str, version: DesignVersion | None = None) -> PriceListEntry:
        return set_price(
            version=version or self.version(),
            workshop=Workshop.objects.get(pk=self.workshop.pk),
            channel=Channel.objects.with_tiers().get(pk=self.channel_id),
            ask=Ask(quantity=12, bought_at_once=1),
            price=Decimal(price),
            colourway=None,
            by=User.objects.get(pk=self.owner_id),
        )

    def double_the_minutes(self) -> DesignVersion:
        version = self.version()
        document: Any = copy.deepcopy(recipe_document(version))
        for step in document["steps"]:
            step["minutes"] = str(Decimal(step["minutes"]) * 2)
        return save_recipe(
            version=version, document=document, edit_number=version.edit_number, by=None
        )


def test_a_price_is_not_set_against_a_recipe_that_is_gone():
    scene = Scene()
    opened = scene.version()
    scene.double_the_minutes()
    with pytest.raises(RecipeMovedOn):
        scene.ask("5", opened)
    assert not PriceListEntry.objects.exists()
    assert scene.version().frozen_at is None


def test_two_prices_at_once_leave_one_that_holds():
    scene = Scene()
    results = at_once(*(lambda price=price: scene.ask(price) for price in ("5", "6", "7", "5")))
    assert {type(result) for result in results} == {PriceListEntry}
    assert PriceListEntry.objects.current().count() == 1


def test_a_price_and_a_save_of_the_recipe_at_once_never_contradict():
    for _ in range(5):
        scene = Scene()
        price, saved = at_once(lambda s=scene: s.ask("5"), scene.double_the_minutes)
        # whoever comes second is refused: a frozen recipe is not saved, a changed one has no price
        assert isinstance(price, PriceListEntry) != isinstance(saved, DesignVersion)


def test_nobody_waits_while_sheets_are_planned():
    scene = Scene()
    inside: list[bool] = []

    def watch(execute: Any, sql: str, *rest: Any) -> Any:
        if "overheaditem" in sql:  # the last thing read before the sums
            inside.append(connection.in_atomic_block)
        return execute(sql, *rest)

    with connection.execute_wrapper(watch):
        scene.ask("5")
    assert inside == [False]
