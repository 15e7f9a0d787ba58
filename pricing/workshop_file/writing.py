"""Makes the rows a workshop file describes; refuses what does not fit together, with its path.

Called by `services.import_workshop` inside its transaction, one function for each list of the
file. Registries map what the file calls a row to the row.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import models

from catalogue.calc.folded.own_places import read_places, written_places
from catalogue.calc.recipes.document import WrongRecipe
from catalogue.designs.models import Design
from catalogue.materials.models import Material, Pack
from catalogue.recipes.models import Colourway, DesignVersion
from catalogue.recipes.writing import write_recipe
from catalogue.suppliers.models import FileColumns, Supplier
from maker.calc.money import is_in_coins
from maker.calc.strict_json import (
    Fields,
    WrongJson,
    anything,
    join,
    mapping_of,
    shown,
    text,
    whole,
)
from maker.workshop.models import CalendarDate, OverheadItem, Workshop
from pricing.channels.models import Channel, ChannelTier
from pricing.letters.models import Letter
from pricing.letters.services import BadLetter, check_letter
from pricing.price_tags.models import LabelSheet
from pricing.prices.models import PriceListEntry
from pricing.spending.models import Budget
from pricing.workshop_file import schema
from pricing.workshop_file.bases import with_ids

BATCH = 400


@dataclass
class Registry:
    """Rows by what the file calls them; nothing is called the same twice."""

    what: str
    rows: dict[Any, Any] = field(default_factory=dict)

    def add(self, name: Any, row: Any, fields: Fields, key: str) -> None:
        """Keep a row under its name."""
        if name in self.rows:
            raise fields.refuse(f"There are two {self.what}s {shown(name)}.", key)
        self.rows[name] = row

    def of(self, fields: Fields, key: str) -> Any:
        """Return the row an object names, which it must."""
        return self._find(fields.take(key, text), fields, key)

    def optional(self, fields: Fields, key: str) -> Any:
        """Return the row an object names, or None."""
        name = fields.optional_text(key)
        return None if name is None else self._find(name, fields, key)

    def _find(self, name: Any, fields: Fields, key: str) -> Any:
        if name not in self.rows:
            raise fields.refuse(f"The file has no {self.what} {shown(name)}.", key)
        return self.rows[name]


def create(model: type[models.Model], rows: Iterable[Any], *, also: tuple[str, ...] = ()) -> None:
    """Store rows in their order; columns the database dates itself keep the file's instant."""
    rows = list(rows)
    dated = [
        column.name
        for column in model._meta.concrete_fields
        if getattr(column, "auto_now_add", False)
    ]
    said = [{name: getattr(row, name) for name in dated} for row in rows]
    # a reference to another row of the same list has no id yet
    later = [{name: getattr(row, name) for name in also} for row in rows]
    for row in rows:
        for name in also:
            setattr(row, name, None)
    model._default_manager.bulk_create(rows, batch_size=BATCH)
    changed = []
    for row, instants, references in zip(rows, said, later, strict=True):
        new = {name: value for name, value in (instants | references).items() if value is not None}
        for name, value in new.items():
            setattr(row, name, value)
        if new:
            changed.append(row)
    if changed:
        model._default_manager.bulk_update(changed, [*dated, *also], batch_size=BATCH)


def write_overhead_items(workshop: Workshop, rows: list[Fields]) -> None:
    """Store what overhead is made of."""
    create(
        OverheadItem,
        [
            OverheadItem(workshop=workshop, **read_columns(schema.OVERHEAD_ITEM, row))
            for row in rows
        ],
    )


def write_calendar_dates(workshop: Workshop, rows: list[Fields]) -> None:
    """Make the dates that differ."""
    dates = []
    for row in rows:
        date = CalendarDate(workshop=workshop, **read_columns(schema.CALENDAR_DATE, row))
        if date.last_on < date.first_on:
            raise row.refuse("It ends before it begins.", "last_on")
        if (date.kind == CalendarDate.Kind.HOURS) != (date.minutes is not None):
            raise row.refuse("Minutes belong to other hours, and only there.", "minutes")
        dates.append(date)
    create(CalendarDate, dates)


def write_suppliers(workshop: Workshop, rows: list[Fields]) -> Registry:
    """Store suppliers."""
    suppliers = Registry("supplier")
    for row in rows:
        values = read_columns(schema.SUPPLIER, row)
        suppliers.add(values["name"], Supplier(workshop=workshop, **values), row, "name")
    create(Supplier, suppliers.rows.values())
    return suppliers


def write_file_columns(workshop: Workshop, rows: list[Fields], suppliers: Registry) -> None:
    """Store which column of a supplier's files is what; told once for each list."""
    told = Registry("set of columns")
    for row in rows:
        supplier = suppliers.optional(row, "supplier")
        values = read_columns(schema.FILE_COLUMNS, row, "supplier")
        name = f"{values['of_list']} of {supplier or 'anyone'}"
        columns = FileColumns(workshop=workshop, supplier=supplier, **values)
        told.add(name, columns, row, "of_list")
    create(FileColumns, told.rows.values())


def write_materials(
    workshop: Workshop, rows: list[Fields], suppliers: Registry
) -> tuple[Registry, dict[str, Registry]]:
    """Store materials and packs; return both, packs by the name of their material."""
    materials = Registry("material")
    packs: dict[str, Registry] = {}
    for row in rows:
        material = Material(
            workshop=workshop,
            supplier=suppliers.optional(row, "supplier"),
            **read_columns(schema.MATERIAL, row, "packs"),
        )
        if material.is_sheet and not ((material.width_mm or 0) > 0 < (material.height_mm or 0)):
            raise row.refuse("A sheet has a width_mm and a height_mm above 0.", "width_mm")
        materials.add(material.name, material, row, "name")
        packs[material.name] = Registry("pack")
        for inner in row.rows("packs"):
            key = inner.optional_text("key")
            pack = Pack(
                material=material,
                supplier=suppliers.optional(inner, "supplier"),
                **read_columns(schema.PACK, inner),
            )
            packs[material.name].add(key or pack.name, pack, inner, "key" if key else "name")
    create(Material, materials.rows.values())
    create(Pack, [pack for registry in packs.values() for pack in registry.rows.values()])
    return materials, packs


def write_designs(
    workshop: Workshop, rows: list[Fields]
) -> tuple[Registry, dict[str, dict[int, DesignVersion]]]:
    """Store designs, their versions and what each version's recipe says."""
    designs = Registry("design")
    versions: dict[str, dict[int, DesignVersion]] = {}
    recipes: list[tuple[DesignVersion, Any, str]] = []
    for row in rows:
        design = Design(workshop=workshop, **read_columns(schema.DESIGN, row, "versions"))
        designs.add(design.name, design, row, "name")
        versions[design.name] = {}
        for inner in row.rows("versions"):
            version = DesignVersion(
                design=design,
                **read_columns(schema.DESIGN_VERSION, inner, "recipe", "places"),
                places=written_places(inner.take("places", read_places, {})),
            )
            if version.number in versions[design.name]:
                raise inner.refuse(f"There are two versions {version.number}.", "number")
            versions[design.name][version.number] = version
            recipes.append((version, inner.take("recipe", anything), inner.at("recipe")))
    create(Design, designs.rows.values())
    create(DesignVersion, [version for version, _, _ in recipes])
    for version, recipe, path in recipes:
        try:
            write_recipe(version, recipe)
        except WrongRecipe as wrong:
            problem = wrong.problems[0]
            inside = "" if problem.path == "recipe" else f".{problem.path}"
            raise WrongJson(problem.message, where=path + inside) from wrong
    return designs, versions


def refuse_unpayable(
    currency: str, fields: Fields, row: models.Model, names: tuple[str, ...]
) -> None:
    """Refuse amounts that no coin of the currency can pay, as the forms do."""
    for name in names:
        if not is_in_coins(getattr(row, name), currency):
            raise fields.refuse(f"No coin of {currency} is as small as that.", name)


def write_channels(workshop: Workshop, rows: list[Fields]) -> Registry:
    """Store channels and what holds in them from which quantity on."""
    channels = Registry("channel")
    tiers = []
    for row in rows:
        channel = Channel(workshop=workshop, **read_columns(schema.CHANNEL, row, "tiers"))
        channels.add(channel.name, channel, row, "name")
        starts = set()
        for inner in row.rows("tiers"):
            tier = ChannelTier(channel=channel, **read_columns(schema.CHANNEL_TIER, inner))
            if tier.bought_at_once in starts:
                raise inner.refuse(f"Two tiers hold from {tier.bought_at_once}.", "bought_at_once")
            refuse_unpayable(workshop.currency, inner, tier, ("price_step", "deposit_step"))
            starts.add(tier.bought_at_once)
            tiers.append(tier)
    create(Channel, channels.rows.values())
    create(ChannelTier, tiers)
    return channels


def colourways_of(designs: Registry) -> dict[tuple[int, int], dict[str, Colourway]]:
    """Return the colourways stored with the recipes: by design and number, then by name."""
    return {
        (version.design_id, version.number): {way.name: way for way in version.colourways.all()}
        for version in DesignVersion.objects.filter(
            design__in=[design.pk for design in designs.rows.values()]
        ).prefetch_related("colourways")
    }


def design_version(
    row: Fields, designs: Registry, versions: dict[str, dict[int, DesignVersion]]
) -> DesignVersion:
    """Return the version an object names by design and number."""
    design = designs.of(row, "design")
    number = row.take("version", whole(0, 2**31 - 1))
    version = versions[design.name].get(number)
    if version is None:
        raise row.refuse(f"{shown(design.name)} has no version {number}.", "version")
    return version


def write_prices(
    rows: list[Fields],
    designs: Registry,
    versions: dict[str, dict[int, DesignVersion]],
    channels: Registry,
    colourways: dict[tuple[int, int], dict[str, Colourway]],
    materials: Mapping[str, int],
) -> Registry:
    """Store asked prices; only one of an item, channel and quantity may be current.

    Returned are those with a key, by it.
    """
    current = set()
    keyed = Registry("price")
    prices = []
    for row in rows:
        key = row.optional_text("key")
        version = design_version(row, designs, versions)
        design, number = version.design, version.number
        colourway = row.optional_text("colourway")
        ways = colourways[design.pk, number]
        if colourway is not None and colourway not in ways:
            raise row.refuse(f"The version has no colourway {shown(colourway)}.", "colourway")
        channel = channels.of(row, "channel")
        price = PriceListEntry(
            design=design,
            version=version,
            channel=channel,
            colourway=ways[colourway] if colourway is not None else None,
            choices=read_choices(row),
            basis=_read_basis(row, materials, channel),
            **read_columns(schema.PRICE, row),
        )
        item = (colourway, tuple(price.choices.items()))
        place = (design.pk, channel.pk, item, price.bought_at_once)
        if price.replaced_at is None:
            if place in current:
                raise row.refuse(
                    "There are two prices not replaced for this item, channel and quantity.",
                    "replaced_at",
                )
            current.add(place)
        if key is not None:
            keyed.add(key, price, row, "key")
        prices.append(price)
    create(PriceListEntry, prices)
    return keyed


def _read_basis(row: Fields, materials: Mapping[str, int], channel: Channel) -> Any:
    """Return what a price was worked out from; None where that was not kept."""
    raw = row.take("basis", anything, None)
    return None if raw is None else with_ids(raw, row.at("basis"), materials, channel.pk)


def read_choices(row: Fields) -> dict[str, str]:
    """Return option keys and the keys of what was chosen."""
    choices = row.take("choices", mapping_of(text), {})
    for key in choices:
        if not 0 < len(key) <= 40 or not key.isprintable():
            raise WrongJson("No option has such a key.", where=join(row.at("choices"), key))
    return dict(sorted(choices.items()))


def write_label_sheets(workshop: Workshop, rows: list[Fields]) -> None:
    """Store label sheets."""
    sheets = Registry("label sheet")
    for row in rows:
        values = read_columns(schema.LABEL_SHEET, row)
        sheets.add(values["name"], LabelSheet(workshop=workshop, **values), row, "name")
    create(LabelSheet, sheets.rows.values())


def write_letters(workshop: Workshop, rows: list[Fields]) -> None:
    """Store the letters a workshop has changed; their placeholders are checked."""
    letters = Registry("letter")
    for row in rows:
        letter = Letter(workshop=workshop, **read_columns(schema.LETTER, row))
        try:
            check_letter(Letter.Kind(letter.kind), letter.subject, letter.text)
        except BadLetter as refusal:
            raise row.refuse(refusal.message, refusal.where) from refusal
        letters.add(letter.kind, letter, row, "kind")
    create(Letter, letters.rows.values())


def write_budgets(workshop: Workshop, rows: list[Fields]) -> None:
    """Store budgets; each holds from the first day of the month of its day, one a month."""
    budgets = Registry("budget")
    for row in rows:
        budget = Budget(workshop=workshop, **read_columns(schema.BUDGET, row))
        # an example's days move by whole weeks, so its months begin on any day
        budget.starts_on = budget.starts_on.replace(day=1)
        name = f"{budget.category} from {budget.starts_on:%Y-%m}"
        budgets.add(name, budget, row, "starts_on")
    create(Budget, budgets.rows.values())


def read_columns(table: schema.FileTable, row: Fields, *lists: str) -> dict[str, Any]:
    """Read a row's columns; with all its references and lists asked for, refuse what is left."""
    values = table.read(row)
    for name in lists:
        row.has(name)
    row.nothing_else()
    return values
