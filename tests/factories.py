"""Makes rows for tests; set only what the test is about."""

import datetime
from decimal import Decimal
from itertools import count
from typing import Any

from catalogue.designs.models import Design
from catalogue.materials.models import Material, Pack
from catalogue.recipes.models import DesignVersion, Fixing, Piece, Role, Step
from catalogue.suppliers.models import Supplier
from maker.accounts.models import Membership, User
from maker.workshop.models import Workshop
from pricing.channels.models import Channel, ChannelTier

_numbers = count(1)


def make_workshop(**fields: Any) -> Workshop:
    """A workshop with a wage of 15.00, 4.20 overhead an hour, euros and inches."""
    number = next(_numbers)
    return Workshop.objects.create(
        **{
            "name": f"Workshop {number}",
            "slug": f"workshop-{number}",
            "unit": "in",
            "wage_per_hour": Decimal("15"),
            "overhead_basis": "stated",
            "overhead_per_hour_stated": Decimal("4.20"),
            **fields,
        }
    )


def make_user(email: str = "", **fields: Any) -> User:
    """A person whose password is `paper-and-twine`."""
    return User.objects.create_user(
        email or f"person{next(_numbers)}@example.test", "paper-and-twine", **fields
    )


def make_member(workshop: Workshop, role: str, email: str = "") -> User:
    """A person with a role in the workshop."""
    user = make_user(email)
    Membership.objects.create(user=user, workshop=workshop, role=role)
    return user


def make_supplier(workshop: Workshop, **fields: Any) -> Supplier:
    """A supplier."""
    return Supplier.objects.create(
        workshop=workshop, **{"name": f"Supplier {next(_numbers)}", **fields}
    )


def make_material(workshop: Workshop, **fields: Any) -> Material:
    """A 12 x 12 in sheet of card, unless told otherwise."""
    defaults: dict[str, Any] = {"name": f"Card {next(_numbers)}", "kind": "sheet"}
    if fields.get("kind", "sheet") == "sheet":
        defaults |= {
            "width_mm": Decimal("304.8"),
            "height_mm": Decimal("304.8"),
            "category": "paper",
        }
    return Material.objects.create(workshop=workshop, **{**defaults, **fields})


def make_pack(material: Material, **fields: Any) -> Pack:
    """A pack of 10 for 5.00."""
    return Pack.objects.create(
        material=material,
        **{"name": "pack of 10", "quantity": Decimal(10), "price": Decimal(5), **fields},
    )


def make_design(workshop: Workshop, **fields: Any) -> Design:
    """A design without a version."""
    return Design.objects.create(
        workshop=workshop, **{"name": f"Design {next(_numbers)}", **fields}
    )


def make_version(design: Design, **fields: Any) -> DesignVersion:
    """An empty recipe."""
    return DesignVersion.objects.create(design=design, **{"number": 1, **fields})


def make_recipe(
    workshop: Workshop, material: Material | None = None, **fields: Any
) -> DesignVersion:
    """A design with one piece of one sheet material (with a pack price) and one 10-minute step."""
    if material is None:
        material = make_material(workshop)
        make_pack(material)
    version = make_version(make_design(workshop), **fields)
    role = Role.objects.create(version=version, name="body", material=material)
    Piece.objects.create(
        version=version,
        name="body",
        role=role,
        width_mm=Decimal("101.6"),
        height_mm=Decimal("101.6"),
    )
    Step.objects.create(version=version, name="fold and glue", minutes=Decimal(10))
    return version


def add_fixing(version: DesignVersion, material: Material, **fields: Any) -> Fixing:
    """Use one unit of a material in the recipe."""
    role = Role.objects.create(version=version, name=material.name, material=material)
    return Fixing.objects.create(
        version=version, **{"name": material.name, "role": role, "amount": Decimal(1), **fields}
    )


def make_channel(workshop: Workshop, **fields: Any) -> Channel:
    """A channel with 30% margin, no fees and steps of 0.05."""
    tier = fields.pop("tier", {})
    channel = Channel.objects.create(
        workshop=workshop, **{"name": f"Channel {next(_numbers)}", **fields}
    )
    ChannelTier.objects.create(channel=channel, **tier)
    return channel


def today() -> datetime.date:
    """The day tests run on."""
    return datetime.datetime.now(tz=datetime.UTC).date()
