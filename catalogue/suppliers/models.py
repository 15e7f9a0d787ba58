"""Shops and makers she buys from."""

from collections.abc import Mapping
from decimal import Decimal

from django.db import models

from maker.workshop.models import ArchivableQuerySet, money_field


class SupplierQuerySet(ArchivableQuerySet["Supplier"]):
    """Suppliers of a workshop."""

    def with_material_count(self) -> "SupplierQuerySet":
        """With `material_count`: how many materials in use usually come from there."""
        return self.annotate(
            material_count=models.Count(
                "materials", filter=models.Q(materials__retired_on__isnull=True)
            )
        )

    def matching(self, text: str) -> "SupplierQuerySet":
        """Those whose name, address or notes hold the text."""
        return self.filter(
            models.Q(name__icontains=text)
            | models.Q(website__icontains=text)
            | models.Q(email__icontains=text)
            | models.Q(notes__icontains=text)
        )

    def to_choose(self, also: object = None) -> "SupplierQuerySet":
        """Those in use by name, and the one chosen already even if it was put away since."""
        wanted = models.Q(retired_on__isnull=True)
        if str(also or "").isdecimal():
            wanted |= models.Q(pk=str(also)[:18])
        return self.filter(wanted).by_name()


class Supplier(models.Model):
    """Where material is bought, how fast it comes and what carriage costs."""

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="suppliers"
    )
    name = models.CharField(max_length=120)
    website = models.URLField(max_length=300, blank=True)
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True)
    lead_days = models.PositiveSmallIntegerField(default=4)
    # standard deviation of the days it takes
    lead_spread_days = models.PositiveSmallIntegerField(default=0)
    carriage = money_field(default=Decimal(0))
    carriage_free_from = money_field(null=True, blank=True)
    notes = models.TextField(max_length=4000, blank=True)
    retired_on = models.DateField(null=True, blank=True)
    edit_number = models.PositiveIntegerField(default=0)

    objects = SupplierQuerySet.as_manager()

    class Meta:
        constraints = (
            models.UniqueConstraint(fields=["workshop", "name"], name="supplier_name_once"),
            models.CheckConstraint(
                condition=models.Q(carriage__gte=0), name="supplier_carriage_not_negative"
            ),
        )

    def __str__(self) -> str:
        return self.name


class FileColumnsQuerySet(models.QuerySet["FileColumns"]):
    """What was told of the columns of other people's files."""

    def of(self, workshop: object) -> "FileColumnsQuerySet":
        """Those of one workshop."""
        return self.filter(workshop=workshop)

    def for_list(self, title: str) -> "FileColumnsQuerySet":
        """Those of files that fill one list, the newest first, each with its supplier."""
        return self.filter(of_list=title.casefold()).select_related("supplier").order_by("-pk")


class FileColumnsManager(models.Manager.from_queryset(FileColumnsQuerySet)):  # type: ignore[misc]  # made here
    """Remembers columns, also through `workshop.file_columns`."""

    def remember(self, title: str, supplier: "Supplier | None", pairs: Mapping[str, str]) -> None:
        """Keep which column is what; what was told of such a file before goes."""
        if not pairs:
            return
        workshop = self.instance
        self.filter(of_list=title.casefold(), supplier=supplier).delete()
        self.create(
            workshop=workshop,
            of_list=title.casefold(),
            supplier=supplier,
            columns="\n".join(f"{theirs}\t{ours}" for theirs, ours in pairs.items()),
        )


class FileColumns(models.Model):
    """Which column of a supplier's files is what; without a supplier, of a kind of list.

    `columns` has a line for each: their heading, a tab, ours.
    """

    class OfList(models.TextChoices):
        """Which list the files fill."""

        MATERIALS = "materials", "Materials"
        RECEIPTS = "receipts", "Receipts"

    workshop = models.ForeignKey(
        "maker.Workshop", on_delete=models.CASCADE, related_name="file_columns"
    )
    of_list = models.CharField(max_length=10, choices=OfList)
    supplier = models.ForeignKey(
        Supplier, on_delete=models.CASCADE, null=True, blank=True, related_name="file_columns"
    )
    columns = models.TextField(max_length=20_000)

    objects = FileColumnsManager()

    class Meta:
        constraints = (
            models.UniqueConstraint(
                fields=["workshop", "of_list", "supplier"], name="file_columns_once"
            ),
            models.UniqueConstraint(
                fields=["workshop", "of_list"],
                condition=models.Q(supplier__isnull=True),
                name="file_columns_once_without_supplier",
            ),
        )

    def __str__(self) -> str:
        return str(self.supplier) if self.supplier_id else self.of_list

    def pairs(self) -> dict[str, str]:
        """Return their headings and ours."""
        lines = (line.partition("\t") for line in self.columns.splitlines())
        return {theirs: ours for theirs, _, ours in lines if theirs and ours}
