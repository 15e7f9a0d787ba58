"""What she buys and uses up, in the unit a recipe speaks of, and the packs it is sold in."""

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django.core.validators import MinValueValidator, RegexValidator
from django.db import models

from catalogue.materials.looks import CORE, USUAL_COLOUR, USUAL_SECOND, Pattern
from maker.calc.units import LENGTH_UNITS
from maker.workshop.models import ArchivableQuerySet, Workshop, money_field, share_field

ZERO = Decimal(0)
# a finer pattern would be lines nobody sees
LEAST_STEP_MM = Decimal(2)
# what tells the cost of one unit, where it was ever bought
UNIT_COST_COLUMNS = ("kind", "average_cost", "fifo_cost", "latest_cost", "latest_line")
IS_A_COLOUR = RegexValidator(
    r"\A#[0-9a-f]{6}\Z", "A colour is written like #a9bd9c.", code="colour"
)


def length_field(**options: object) -> "models.DecimalField[Decimal, Decimal]":
    """Return a field for a length in millimetres, exact down to 1/64 inch (0.396875 mm)."""
    return models.DecimalField(max_digits=12, decimal_places=6, **options)  # type: ignore[arg-type]


def quantity_field(**options: object) -> "models.DecimalField[Decimal, Decimal]":
    """Return a field for an amount in a recipe unit."""
    return models.DecimalField(max_digits=16, decimal_places=6, **options)  # type: ignore[arg-type]


def typed_in_field() -> "models.CharField[str, str]":
    """Return a field for the unit a length was typed in; empty: the workshop's usual one."""
    return models.CharField(
        max_length=5, blank=True, default="", choices=[(unit, unit) for unit in LENGTH_UNITS]
    )


def packs_on_offer() -> "models.Prefetch[str, Any, str]":
    """Return how the packs of materials are loaded with them."""
    return models.Prefetch(
        "packs", Pack.objects.in_use().select_related("supplier").in_entry_order()
    )


def load_costs(materials: Iterable["Material"]) -> None:
    """Load what the materials cost that were chosen among many loaded without it.

    As `with_costs` does; the number of queries does not grow with the materials.
    """
    models.prefetch_related_objects(list(materials), "supplier", packs_on_offer())


class MaterialQuerySet(ArchivableQuerySet["Material"]):
    """Materials of a workshop."""

    def with_costs(self) -> "MaterialQuerySet":
        """With all that says what they cost and from whom: packs on offer with their suppliers."""
        return self.select_related("supplier", "picture").prefetch_related(packs_on_offer())

    def with_values(self) -> "MaterialQuerySet":
        """With what a calculation takes of them: packs on offer, and who sells those."""
        return self.select_related("supplier").prefetch_related(packs_on_offer())

    def unit_costs_only(self) -> "MaterialQuerySet":
        """With what tells the cost of one unit and nothing else, for all of a workshop at once."""
        return self.only(*UNIT_COST_COLUMNS)

    def matching(self, text: str) -> "MaterialQuerySet":
        """Those whose name, code or supplier holds the text."""
        return self.filter(
            models.Q(name__icontains=text)
            | models.Q(code__icontains=text)
            | models.Q(supplier__name__icontains=text)
        )

    def below_level(self) -> "MaterialQuerySet":
        """Those with a level to reorder at, and less than that on the shelf."""
        return self.filter(reorder_level__gt=0, on_hand__lt=models.F("reorder_level"))


class Material(models.Model):
    """A thing she buys: sheet, reel, glue, dots. Recipes speak of it in `unit`.

    The figures on hand and cost are kept by `catalogue.stock.services` from the ledger;
    they are a cache and can be made again from it at any time.
    """

    class Kind(models.TextChoices):
        SHEET = "sheet", "sheet (card, paper, board, foam)"
        LENGTH = "length", "by length (ribbon, cord, twine, tape)"
        VOLUME = "volume", "by volume (glue, paint)"
        MASS = "mass", "by weight (shred, glitter)"
        COUNT = "count", "pieces (brads, gems, bags, cartons)"
        PAIRS = "pairs", "in pairs (hook-and-loop dots, magnets)"

    class Category(models.TextChoices):
        PAPER = "paper", "Paper and card"
        FIXINGS = "fixings", "Fixings and trims"
        GLUE = "glue", "Glue and tape"
        TOOLS = "tools", "Tools and blades"
        PACKING = "packing", "Packaging"
        OTHER = "other", "Other"

    # the unit a recipe uses, by kind
    UNITS = {
        "sheet": "sheet",
        "length": "m",
        "volume": "ml",
        "mass": "g",
        "count": "piece",
        "pairs": "pair",
    }

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="materials"
    )
    name = models.CharField(max_length=120)
    code = models.CharField(max_length=40, blank=True)
    kind = models.CharField(max_length=10, choices=Kind)
    category = models.CharField(max_length=10, choices=Category, default=Category.OTHER)
    supplier = models.ForeignKey(
        "catalogue.Supplier",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="materials",
    )

    # sheets
    width_mm = length_field(null=True, blank=True)
    height_mm = length_field(null=True, blank=True)
    trim_mm = length_field(default=ZERO, validators=[MinValueValidator(ZERO)])
    is_directional = models.BooleanField(default=False)
    is_double_sided = models.BooleanField(default=False)
    grammage = models.DecimalField(max_digits=7, decimal_places=2, null=True, blank=True)
    thickness_mm = models.DecimalField(max_digits=6, decimal_places=3, null=True, blank=True)

    # what it looks like in pictures: #rrggbb, a pattern of ours, and how far apart that repeats
    colour = models.CharField(max_length=7, default=USUAL_COLOUR, validators=[IS_A_COLOUR])
    pattern = models.CharField(max_length=12, choices=Pattern, default=Pattern.PLAIN)
    second_colour = models.CharField(max_length=7, default=USUAL_SECOND, validators=[IS_A_COLOUR])
    back_colour = models.CharField(max_length=7, default=CORE, validators=[IS_A_COLOUR])
    pattern_step_mm = length_field(
        default=Decimal(12), validators=[MinValueValidator(LEAST_STEP_MM)]
    )

    # a photo or scan of it, as wide as that much of the card
    picture = models.ForeignKey(
        "maker.StoredPicture",
        on_delete=models.SET_NULL,
        null=True,
        blank=True,
        editable=False,
        related_name="+",
    )
    picture_width_mm = length_field(null=True, blank=True, editable=False)

    # reels: lost at every cut (sealing, a slanted end), and the last bit nobody can use
    cut_loss_mm = length_field(default=ZERO, validators=[MinValueValidator(ZERO)])
    reel_end_mm = length_field(default=ZERO, validators=[MinValueValidator(ZERO)])

    waste_share = share_field(default=ZERO)
    reorder_level = quantity_field(default=ZERO, validators=[MinValueValidator(ZERO)])
    reorder_typed_in = typed_in_field()
    # at the year's end: what one unit would fetch (None: not looked at), and whether it goes into
    # things sold at or above cost, which is then not written down
    fetches_each = money_field(null=True, blank=True)
    is_sold_above_cost = models.BooleanField(default=True)
    licence_note = models.TextField(max_length=2000, blank=True)
    safety_note = models.TextField(max_length=2000, blank=True)
    notes = models.TextField(max_length=4000, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    edit_number = models.PositiveIntegerField(default=0)

    # kept from the ledger
    on_hand = quantity_field(default=ZERO, editable=False)
    stock_value = models.DecimalField(max_digits=20, decimal_places=6, default=ZERO, editable=False)
    average_cost = money_field(null=True, editable=False)
    fifo_cost = money_field(null=True, editable=False)
    latest_cost = money_field(null=True, editable=False)
    latest_line = models.ForeignKey(
        "catalogue.PurchaseLine",
        on_delete=models.SET_NULL,
        null=True,
        editable=False,
        related_name="+",
    )

    objects = MaterialQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["workshop", "name"], name="material_name_once"),
            models.CheckConstraint(
                condition=~models.Q(kind="sheet") | models.Q(width_mm__gt=0, height_mm__gt=0),
                name="sheet_has_a_size",
            ),
            models.CheckConstraint(
                condition=models.Q(waste_share__gte=0) & models.Q(waste_share__lte=1),
                name="material_waste_is_a_share",
            ),
        )

    def __str__(self) -> str:
        return self.name

    @property
    def unit(self) -> str:
        """The unit recipes and stock use for this material."""
        return self.UNITS[self.kind]

    @property
    def is_sheet(self) -> bool:
        """Whether pieces are cut from it."""
        return self.kind == self.Kind.SHEET


class PackQuerySet(models.QuerySet["Pack"]):
    """How materials are sold."""

    def of(self, workshop: Workshop) -> "PackQuerySet":
        """Packs of one workshop's materials."""
        return self.filter(material__workshop=workshop)

    def in_use(self) -> "PackQuerySet":
        """Those not put away."""
        return self.filter(retired_on__isnull=True)

    def in_entry_order(self) -> "PackQuerySet":
        """As they were entered."""
        return self.order_by("position", "pk")


class Pack(models.Model):
    """How a material is sold: a pad of 24, a reel of 50 m; `quantity` is the exact factor."""

    material = models.ForeignKey(
        "catalogue.Material", on_delete=models.CASCADE, related_name="packs"
    )
    supplier = models.ForeignKey(
        "catalogue.Supplier", on_delete=models.PROTECT, null=True, blank=True, related_name="packs"
    )
    position = models.PositiveSmallIntegerField(default=0)
    name = models.CharField(max_length=120)
    quantity = quantity_field(validators=[MinValueValidator(Decimal("0.000001"))])
    typed_in = typed_in_field()
    price = money_field(null=True, blank=True)
    code = models.CharField(max_length=40, blank=True)
    retired_on = models.DateField(null=True, blank=True)

    objects = PackQuerySet.as_manager()

    class Meta:
        constraints = (
            models.CheckConstraint(condition=models.Q(quantity__gt=0), name="pack_holds_something"),
        )

    def __str__(self) -> str:
        return self.name
