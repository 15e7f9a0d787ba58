"""What can stand on a line of a receipt: materials by pack and loose, found by what is typed."""

from collections.abc import Hashable, Iterable, Sequence
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import Q, QuerySet
from django.forms.utils import flatatt
from django.utils.html import format_html_join
from django.utils.safestring import SafeString

from catalogue.materials.models import Material, Pack
from catalogue.purchases.models import PurchaseLine
from maker.kept import Kept, as_stored

LINES_REMEMBERED = 3000  # of the last receipts, for what things cost last
# a material and the pack it comes in, None for loose
Key = tuple[int, int | None]


class Offers:
    """Everything that can stand on a line: each material by pack, and loose, under one name.

    Loaded once for all lines of a page, as bare values: a workshop may have thousands. A name is
    typed or chosen from the list; a bare material's name does when it has one pack, or none, or
    when the amount says its unit. What a draft says already stays on offer, even if it was put
    away since.
    """

    def __init__(self, workshop: Any, lines: Iterable[PurchaseLine] = ()) -> None:
        self.workshop = workshop
        lines = list(lines)
        packs: dict[int, list[tuple[int, str, Decimal | None]]] = {}
        for pack, material, name, price in _packs(workshop, lines):
            packs.setdefault(material, []).append((pack, name, price))
        self.by_name: dict[str, Key] = {}
        self.names: dict[Key, str] = {}
        self.lasts: dict[Key, str] = {}
        self.materials: dict[Key, str] = {}
        self.prices: dict[Key, str] = {}
        # the material's name, for a pack that is its only one
        self.alone: dict[Key, str] = {}
        self.ways: dict[str, list[Key]] = {}
        self.datalist = SafeString()
        for key, name, kind in _materials(workshop, lines):
            ways = packs.get(key, [])
            for pack, pack_name, price in ways:
                self._add((key, pack), name, f"{name} · {pack_name}")
                if price is not None:
                    self.prices[key, pack] = f"{price.normalize():f}"
            unit = Material.UNITS[kind]
            self._add((key, None), name, f"{name} · by the {unit}" if ways else name)
            if len(ways) == 1:
                self.alone[key, ways[0][0]] = name

    def _add(self, key: Key, material: str, name: str) -> None:
        number, unique = 2, name
        while plain_name(unique) in self.by_name:
            unique, number = f"{name} ({number})", number + 1
        self.by_name[plain_name(unique)] = key
        self.names[key] = unique
        self.materials[key] = material
        self.ways.setdefault(plain_name(material), []).append(key)

    def first_line(self, material: str | None) -> list[dict[str, str]]:
        """Return a line with the one way a material is bought, or with its name, to begin with."""
        ways = [key for key in self.names if str(key[0]) == material]
        packs = [key for key in ways if key[1] is not None] or ways
        if not packs:
            return []
        return [{"what": self.names[packs[0]] if len(packs) == 1 else self.materials[packs[0]]}]

    def options(self) -> Iterable[tuple[str, str, str, str, str]]:
        """Yield what the list under the entry shows: a name, the price of a pack or nothing, the
        material's name where that alone means this pack, what it cost last at each supplier, and
        the material's name.
        """
        self._remember()
        for key, name in self.names.items():
            yield (
                name,
                self.prices.get(key, ""),
                self.alone.get(key, ""),
                self.lasts.get(key, ""),
                self.materials[key],
            )

    def with_datalist(self) -> "Offers":
        """Return it with the list under the entry written out (one query)."""
        options = map(_attributes, self.options())
        self.datalist = format_html_join("\n", "<option{}></option>", options)
        return self

    def _remember(self) -> None:
        """Note for each supplier what a pack (or unit) cost last, and a 1 where it came last.

        One query over the last lines of receipts in stock.
        """
        seen: set[tuple[int, Key]] = set()
        came: set[tuple[int, int]] = set()
        lasts: dict[Key, list[str]] = {}
        lines = _last_lines(self.workshop)
        for supplier, material, pack, packs, quantity, amount, credited, damaged in lines:
            key = (material, pack)
            if (supplier, key) in seen:
                continue
            seen.add((supplier, key))
            is_last = (supplier, material) not in came
            came.add((supplier, material))
            each = (amount + credited) / (packs if pack else quantity + damaged)
            lasts.setdefault(key, []).append(f"{supplier}:{each:.6f}:{int(is_last)}")
        self.lasts = {key: " ".join(words) for key, words in lasts.items()}

    def find(self, text: str, *, says_unit: bool) -> Key:
        """Return what is meant. Errors: ValidationError, with the names that would do."""
        plain = plain_name(text)
        if plain in self.by_name:
            return self.by_name[plain]
        ways = self.ways.get(plain, [])
        packs = [key for key in ways if key[1] is not None]
        loose = [key for key in ways if key[1] is None]
        if len(loose) == 1 and len(packs) == 1:
            return packs[0]
        if len(loose) == 1 and (says_unit or not packs):
            return loose[0]
        if ways:
            names = "; ".join(self.names[key] for key in ways[:5])
            raise forms.ValidationError(f"Which pack? Choose one: {names}.")
        near = next((name for name in self.names.values() if plain in plain_name(name)), "")
        raise forms.ValidationError(
            f"“{text[:60]}” isn't one of your materials. "
            + (f"Is it “{near}”? " if near else "")
            + "Choose one from the list, or add it as a new material.",
            code="unknown",
        )


def _attributes(option: tuple[str, str, str, str, str]) -> tuple[SafeString]:
    name, price, alone, last, material = option
    given = {"value": name}
    if last:
        given |= {"data-last": last, "data-material": material}
    if price:
        given |= {"data-price": price} | ({"data-alone": alone} if alone else {})
    return (flatatt(given),)


def _materials(
    workshop: Any, lines: Sequence[PurchaseLine]
) -> QuerySet[Material, tuple[int, str, str]]:
    """Return key, name and kind of what is in use, and of what lines name already."""
    named = Q(pk__in=[line.material_id for line in lines])
    found = Material.objects.of(workshop).filter(Q(retired_on__isnull=True) | named)
    return found.by_name().values_list("pk", "name", "kind")


def _packs(
    workshop: Any, lines: Sequence[PurchaseLine]
) -> QuerySet[Pack, tuple[int, int, str, Decimal | None]]:
    """Return key, material, name and price of packs in use, and of what lines name already."""
    named = Q(pk__in=[line.pack_id for line in lines if line.pack_id])
    found = Pack.objects.of(workshop).filter(Q(retired_on__isnull=True) | named)
    return found.in_entry_order().values_list("pk", "material_id", "name", "price")


def _last_lines(workshop: Any) -> QuerySet[PurchaseLine, tuple[Any, ...]]:
    """Return supplier, material, pack, amounts and cost of the last lines in stock."""
    return (
        PurchaseLine.objects.of(workshop)
        .recorded()
        .filter(foreign_amount__isnull=True)
        .order_by("-purchase__bought_on", "-pk")
        .values_list(
            *("purchase__supplier", "material", "pack", "packs_bought", "quantity"),
            *("amount", "amount_credited", "damaged_credited"),
        )[:LINES_REMEMBERED]
    )


# of workshops; with some thousand materials a MB each
_OFFERS: Kept[Offers] = Kept(4)


def offers_for(workshop: Any, lines: Iterable[PurchaseLine]) -> Offers:
    """Return what can stand on lines, as long as nothing changes that it follows from."""
    rows = list(lines)

    def content() -> Hashable:
        found = (
            _materials(workshop, rows).order_by("pk"),
            _packs(workshop, rows),
            _last_lines(workshop),
        )
        return workshop.pk, *(as_stored(each) for each in found)

    return _OFFERS.result_of(content, lambda: Offers(workshop, rows).with_datalist())


def plain_name(text: str) -> str:
    """Return a name as it is looked up: however it is spaced and capitalised."""
    return " ".join(text.split()).casefold()
