"""Fixtures of the catalogue: its usual rows, and every kind of visitor."""

from collections.abc import Mapping

import pytest
from django.test import Client

from catalogue.materials.models import Material
from catalogue.suppliers.models import Supplier
from maker.workshop.models import Workshop
from tests import factories


@pytest.fixture
def supplier(workshop: Workshop) -> Supplier:
    """A supplier of the workshop."""
    return factories.make_supplier(workshop, name="Larkspur Paper Mill")


@pytest.fixture
def card(workshop: Workshop) -> Material:
    """A sheet of card, 12 x 12 in, in packs of 10 for 5.00."""
    material = factories.make_material(workshop, name="Bramble card")
    factories.make_pack(material)
    return material


@pytest.fixture
def visitors(
    client: Client,
    helper_client: Client,
    reader_client: Client,
    stranger_client: Client,
    anonymous_client: Client,
) -> Mapping[str, Client]:
    """The owner, a helper, a reader, somebody of another workshop, and nobody."""
    return {
        "owner": client,
        "helper": helper_client,
        "reader": reader_client,
        "stranger": stranger_client,
        "nobody": anonymous_client,
    }
