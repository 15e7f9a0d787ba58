"""Versions of a design and the rows of their recipes.

A recipe speaks of materials by role (body, accent, ribbon), so that a colourway can put
another material in the role. Every row may hold for some quantities or options only.
"""

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from itertools import islice
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from catalogue.materials.models import Material, length_field, quantity_field, typed_in_field
from catalogue.recipes.kept_rows import NOTHING_LOADED, OF_VERSION, load_rows
from maker.workshop.models import Workshop, money_field, share_field

ZERO = Decimal(0)
ONE = Decimal(1)


def minutes_field(**options: object) -> "models.DecimalField[Decimal, Decimal]":
    """Return a field for minutes of work or waiting."""
    return models.DecimalField(
        max_digits=10,
        decimal_places=4,
        validators=[MinValueValidator(ZERO)],
        **options,  # type: ignore[arg-type]
    )


class VersionQuerySet(models.QuerySet["DesignVersion"]):
    """Versions of designs."""

    def of(self, workshop: Workshop) -> "VersionQuerySet":
        """Those of one workshop's designs."""
        return self.filter(design__workshop=workshop)

    def newest_first(self) -> "VersionQuerySet":
        """By number, the current one first."""
        return self.order_by("-number", "-pk")

    # kinds of rows to load, and the materials with what is asked of them
    _loaded: "tuple[tuple[str, ...], models.QuerySet[Material], Mapping[int, Material]] | None" = (
        None
    )

    def with_recipe(self, loaded: Mapping[int, Material] = NOTHING_LOADED) -> "VersionQuerySet":
        """With every row and what its materials cost, in a fixed number of queries.

        Materials by key that were loaded `with_costs()` before are taken as they are.
        """
        return self._loading(OF_VERSION, Material.objects.with_costs(), loaded)

    def with_recipe_values(self) -> "VersionQuerySet":
        """With what `recipe_values` takes, for pages that only price; in as many queries."""
        return self._loading(OF_VERSION, Material.objects.with_values())

    def with_what_is_seen(self) -> "VersionQuerySet":
        """With what a picture shows: pieces, cords, looks; a fixed number of queries."""
        kinds = ("roles", "pieces", "fixings", "options", "colourways")
        return self._loading(kinds, Material.objects.select_related("picture"))

    def _loading(
        self,
        kinds: tuple[str, ...],
        materials: "models.QuerySet[Material]",
        loaded: Mapping[int, Material] = NOTHING_LOADED,
    ) -> "VersionQuerySet":
        found = self.select_related("design__workshop")
        found._loaded = (kinds, materials, loaded)
        return found

    def iterator(  # type: ignore[override] # the plugin's _Row
        self, chunk_size: int | None = None
    ) -> "Iterator[DesignVersion]":
        """Read so many at once, and what is loaded with them."""
        found = super().iterator(chunk_size)
        if not self._loaded:
            yield from found
            return
        while versions := list(islice(found, chunk_size or 100)):
            load_rows(versions, *self._loaded)
            yield from versions

    def _clone(self) -> "VersionQuerySet":
        clone: VersionQuerySet = super()._clone()  # type: ignore[misc] # Django's own way
        clone._loaded = self._loaded
        return clone

    def _fetch_all(self) -> None:
        is_first = self._result_cache is None
        super()._fetch_all()
        if is_first and self._loaded and self._result_cache:
            load_rows(self._result_cache, *self._loaded)

    def more_of(
        self, known: "Mapping[int, DesignVersion]", keys: Iterable[int]
    ) -> "dict[int, DesignVersion]":
        """Return versions by key, reading only those that are not known yet."""
        missing = set(keys) - known.keys()
        return {**known, **(self.in_bulk(missing) if missing else {})}

    def newest_of(self, designs: Iterable[Any]) -> "VersionQuerySet":
        """The newest version of each of some designs."""
        newest = DesignVersion.objects.filter(design=models.OuterRef("design")).newest_first()
        return self.filter(
            design__in=[design.pk for design in designs],
            number=models.Subquery(newest.values("number")[:1]),
        )


class DesignVersion(models.Model):
    """One state of a design's recipe; frozen once something was promised from it."""

    class Learning(models.TextChoices):
        NONE = "none", "no speed-up"
        CUMULATIVE = "cumulative", "average speed-up"
        PER_UNIT = "per_unit", "item-by-item speed-up"

    design = models.ForeignKey(
        "catalogue.Design", on_delete=models.CASCADE, related_name="versions"
    )
    number = models.PositiveIntegerField(default=1)
    name = models.CharField(max_length=120, blank=True)
    finished_size = models.CharField(max_length=80, blank=True)
    frozen_at = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField(auto_now_add=True)
    edit_number = models.PositiveIntegerField(default=0)
    # another after each writing of the recipe's rows: see `kept_rows`
    recipe_stamp = models.UUIDField(null=True, blank=True, editable=False)

    # spares: ceil(quantity x rate) from this quantity on
    reject_share = share_field(default=ZERO)
    rejects_from = models.PositiveIntegerField(default=1)

    learning = models.CharField(max_length=10, choices=Learning, default=Learning.NONE)
    learning_rate = models.DecimalField(
        max_digits=5,
        decimal_places=4,
        default=ONE,
        validators=[MinValueValidator(Decimal("0.5")), MaxValueValidator(ONE)],
    )
    learning_floor = models.DecimalField(
        max_digits=5,
        decimal_places=4,
        default=ZERO,
        validators=[MinValueValidator(ZERO), MaxValueValidator(ONE)],
    )
    # the minutes were timed in a batch of this many (1: on the first piece ever)
    learning_reference = models.PositiveIntegerField(default=1)
    # pieces of this design made before: hands that know it start further down the curve
    learning_made = models.PositiveIntegerField(default=0)

    # where copies of pieces sit, as `calc/folded/own_places.py` has it: only what is drawn, so it
    # may change while the version is locked; the places before, for undo, and how often it changed
    places = models.JSONField(default=dict, blank=True)
    places_before = models.JSONField(default=dict, blank=True)
    places_edit_number = models.PositiveIntegerField(default=0)

    objects = VersionQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["design", "number"], name="version_number_once"),
            models.CheckConstraint(
                condition=models.Q(reject_share__gte=0) & models.Q(reject_share__lt=1),
                name="reject_share_below_one",
            ),
            models.CheckConstraint(
                condition=models.Q(learning_reference__gte=1), name="reference_batch_at_least_one"
            ),
        )

    def __str__(self) -> str:
        return f"version {self.number}"


class RecipeChange(models.Model):
    """The recipe as it was before one save, so that the save can be undone and explained."""

    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.CASCADE, related_name="changes"
    )
    edit_number = models.PositiveIntegerField()
    before = models.JSONField()
    made_by = models.ForeignKey(
        "maker.User", on_delete=models.SET_NULL, null=True, blank=True, related_name="+"
    )
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["version", "edit_number"], name="one_change_per_edit"),
        )

    def __str__(self) -> str:
        return f"change {self.edit_number}"


class Role(models.Model):
    """What a material does in the design: body, accent, ribbon."""

    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.CASCADE, related_name="roles"
    )
    position = models.PositiveSmallIntegerField(default=0)
    name = models.CharField(max_length=80)
    material = models.ForeignKey(
        "catalogue.Material", on_delete=models.PROTECT, related_name="roles"
    )

    class Meta:
        constraints = (models.UniqueConstraint(fields=["version", "name"], name="role_name_once"),)

    def __str__(self) -> str:
        return self.name


class Option(models.Model):
    """A question the customer can be asked: closure, handle, name."""

    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.CASCADE, related_name="options"
    )
    position = models.PositiveSmallIntegerField(default=0)
    key = models.SlugField(max_length=40)
    name = models.CharField(max_length=80)

    class Meta:
        constraints = (models.UniqueConstraint(fields=["version", "key"], name="option_key_once"),)

    def __str__(self) -> str:
        return self.name


class OptionChoice(models.Model):
    """One answer; recipe rows say with or without which choice they hold."""

    option = models.ForeignKey("catalogue.Option", on_delete=models.CASCADE, related_name="choices")
    position = models.PositiveSmallIntegerField(default=0)
    key = models.SlugField(max_length=40)
    name = models.CharField(max_length=80)
    is_default = models.BooleanField(default=False)
    caution = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = (models.UniqueConstraint(fields=["option", "key"], name="choice_key_once"),)

    def __str__(self) -> str:
        return self.name


class RecipeRow(models.Model):
    """What every row of a recipe has: its place, its name and when it holds."""

    position = models.PositiveSmallIntegerField(default=0)
    name = models.CharField(max_length=120)
    from_quantity = models.PositiveIntegerField(null=True, blank=True)
    to_quantity = models.PositiveIntegerField(null=True, blank=True)
    only_with = models.ForeignKey(
        "catalogue.OptionChoice", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    not_with = models.ForeignKey(
        "catalogue.OptionChoice", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    class Meta:
        abstract = True

    def __str__(self) -> str:
        return self.name


class Piece(RecipeRow):
    """A part cut from a sheet: a free rectangle, the blank for a die, or the blank of a form."""

    class Shape(models.TextChoices):
        RECTANGLE = "rectangle", "cut to size"
        DIE = "die", "die-cut"
        FORM = "form", "folded from a shape"

    class Turning(models.TextChoices):
        AS_MATERIAL = "material", "as the material allows"
        FREE = "free", "may be turned"
        FIXED = "fixed", "must stay upright"

    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.CASCADE, related_name="pieces"
    )
    role = models.ForeignKey("catalogue.Role", on_delete=models.PROTECT, related_name="pieces")
    shape = models.CharField(max_length=10, choices=Shape, default=Shape.RECTANGLE)
    width_mm = length_field()
    height_mm = length_field()
    # a form of the library and its finished size in mm, as plain numbers in text: width and
    # height are then the blank that follows from them, written when the piece is saved
    form = models.CharField(max_length=40, blank=True)
    form_inputs = models.JSONField(default=dict, blank=True)
    # a die's blank is this much larger on every side
    die_margin_mm = length_field(default=ZERO, validators=[MinValueValidator(ZERO)])
    count = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    layers = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    turning = models.CharField(max_length=10, choices=Turning, default=Turning.AS_MATERIAL)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(width_mm__gt=0, height_mm__gt=0, count__gte=1, layers__gte=1),
                name="piece_has_a_size",
            ),
            models.CheckConstraint(
                condition=models.Q(shape="form", form__gt="")
                | (~models.Q(shape="form") & models.Q(form="")),
                name="piece_has_a_form_or_none",
            ),
        )


class Fixing(RecipeRow):
    """Use of anything that is not cut from sheets: dots, brads, twine, glue."""

    class Basis(models.TextChoices):
        MADE = "made", "per item made"
        GOOD = "good", "per item sold"
        JOB = "job", "per batch"
        CARTON = "carton", "per carton"
        NAME = "name", "per name"

    class Measure(models.TextChoices):
        AMOUNT = "amount", "amount"
        BEAD = "bead", "glue line: length × ml per metre"
        AREA = "area", "glue spread: area × amount per square metre"
        FORM_BEAD = "form_bead", "glue on every tab: lines × ml per metre"
        FORM_AREA = "form_area", "glue spread on the folded pieces: amount per square metre"
        CUT = "cut", "cut to length from a reel: length × how many"

    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.CASCADE, related_name="fixings"
    )
    role = models.ForeignKey("catalogue.Role", on_delete=models.PROTECT, related_name="fixings")
    basis = models.CharField(max_length=10, choices=Basis, default=Basis.MADE)
    measure = models.CharField(max_length=10, choices=Measure, default=Measure.AMOUNT)
    # recipe units; for a glue line its length in mm, for a spread its area in mm2, for a cut
    # length its mm; on folded pieces how many lines or coats, their length comes from the forms
    amount = quantity_field(validators=[MinValueValidator(ZERO)])
    typed_in = typed_in_field()
    # for a glue line ml per metre, for a spread recipe units per square metre, of cut lengths
    # how many
    rate = quantity_field(null=True, blank=True, validators=[MinValueValidator(ZERO)])
    # empty: the material's own waste
    waste_share = share_field(null=True, blank=True)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(measure="amount") | models.Q(rate__isnull=False),
                name="glue_by_length_or_area_has_a_rate",
            ),
        )


class Wear(RecipeRow):
    """A tool that is used up: its price over how much it does."""

    class Basis(models.TextChoices):
        SHEET = "sheet", "per sheet cut"
        PASS = "pass", "per die pass"
        MADE = "made", "per item made"

    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.CASCADE, related_name="wears"
    )
    # empty: the sheets or passes of every role
    role = models.ForeignKey(
        "catalogue.Role", on_delete=models.PROTECT, null=True, blank=True, related_name="wears"
    )
    basis = models.CharField(max_length=10, choices=Basis, default=Basis.SHEET)
    price = money_field()
    life = quantity_field(default=ONE, validators=[MinValueValidator(Decimal("0.000001"))])

    class Meta:
        constraints = (
            models.CheckConstraint(condition=models.Q(life__gt=0), name="tool_lasts_a_while"),
        )


class Packing(RecipeRow):
    """What good pieces leave in: a sleeve each, a mailer, cartons of n."""

    class Kind(models.TextChoices):
        SLEEVE = "sleeve", "sleeve or bag"
        MAILER = "mailer", "mailer"
        CARTON = "carton", "carton"

    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.CASCADE, related_name="packings"
    )
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.SLEEVE)
    holds = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1)])
    # either a material's unit cost or a stated cost
    role = models.ForeignKey(
        "catalogue.Role", on_delete=models.PROTECT, null=True, blank=True, related_name="packings"
    )
    cost_each = money_field(null=True, blank=True)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(role__isnull=False) | models.Q(cost_each__isnull=False),
                name="packing_has_a_cost",
            ),
            models.CheckConstraint(condition=models.Q(holds__gte=1), name="packing_holds_one"),
        )


class Step(RecipeRow):
    """Work, or waiting: minutes for each job, batch, sheet, die pass, one made, carton or name."""

    class Basis(models.TextChoices):
        JOB = "job", "once per batch (set-up)"
        BATCH = "batch", "for every"
        SHEET = "sheet", "per sheet cut"
        PASS = "pass", "per die pass"
        MADE = "made", "per item made"
        GOOD = "good", "per item sold"
        CARTON = "carton", "per carton"
        NAME = "name", "per name"
        RACK = "rack", "drying: per rack load"
        NIGHT = "night", "drying: overnight per batch"

    class Caution(models.TextChoices):
        NONE = "", "none"
        BLADE = "blade", "blade"
        HOT_GLUE = "hot_glue", "hot glue"
        SMALL_PARTS = "small_parts", "small parts"
        MAGNET = "magnet", "magnet"
        CORD = "cord", "cord or loop"
        FOOD = "food", "food contact"
        LOAD = "load", "load on a handle"

    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.CASCADE, related_name="steps"
    )
    basis = models.CharField(max_length=10, choices=Basis, default=Basis.MADE)
    # sheet and pass only; empty: every role
    role = models.ForeignKey(
        "catalogue.Role", on_delete=models.PROTECT, null=True, blank=True, related_name="steps"
    )
    minutes = minutes_field(default=ZERO)
    minutes_low = minutes_field(null=True, blank=True)
    minutes_high = minutes_field(null=True, blank=True)
    # the batch size, the shapes of a pass or the capacity of the rack
    per = models.PositiveIntegerField(default=1, validators=[MinValueValidator(1)])
    # rack: how often each load dries, and the minutes of a day it may
    times = models.PositiveSmallIntegerField(default=1, validators=[MinValueValidator(1)])
    window_minutes = models.PositiveIntegerField(null=True, blank=True)
    learns = models.BooleanField(default=False)
    caution = models.CharField(max_length=12, choices=Caution, default=Caution.NONE, blank=True)

    class Meta:
        constraints = (
            models.CheckConstraint(
                condition=models.Q(per__gte=1, times__gte=1, minutes__gte=0),
                name="step_counts_from_one",
            ),
        )


class Colourway(models.Model):
    """A named set of materials for the roles."""

    version = models.ForeignKey(
        "catalogue.DesignVersion", on_delete=models.CASCADE, related_name="colourways"
    )
    position = models.PositiveSmallIntegerField(default=0)
    name = models.CharField(max_length=80)

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["version", "name"], name="colourway_name_once"),
        )

    def __str__(self) -> str:
        return self.name


class ColourwayMaterial(models.Model):
    """The material a colourway puts in one role."""

    colourway = models.ForeignKey(
        "catalogue.Colourway", on_delete=models.CASCADE, related_name="materials"
    )
    role = models.ForeignKey(
        "catalogue.Role", on_delete=models.CASCADE, related_name="colourway_materials"
    )
    material = models.ForeignKey(
        "catalogue.Material", on_delete=models.PROTECT, related_name="colourway_materials"
    )

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["colourway", "role"], name="one_material_per_role"),
        )

    def __str__(self) -> str:
        return f"{self.role_id}: {self.material_id}"
