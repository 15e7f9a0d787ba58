"""Writes down what the counts entered so far had counted, and lets it stay.

A count was kept as a difference only. What was counted is that difference and all that was in the
ledger when it was entered: rows of that day or earlier with a smaller key. Where something came in
with an earlier day since, the count now finds that missing, and the figures kept are made anew.
"""

from typing import Any

from django.db import migrations

from catalogue.migrations._ledger_of_0009 import value_ledger


def _fill(entries: list[Any], *, until_its_day: bool) -> None:
    """Fill the counts of one ledger."""
    for count in entries:
        if count.kind != "counted":
            continue
        before = [
            entry.change
            for entry in entries
            if entry.pk < count.pk and (entry.moved_on <= count.moved_on or not until_its_day)
        ]
        count.counted = max(sum(before) + count.change, 0)
        count.change_at_count = count.change


def fill(apps: Any, schema_editor: Any) -> None:
    """Fill every ledger that has a count."""
    entry_model = apps.get_model("catalogue", "StockEntry")
    materials = apps.get_model("catalogue", "Material").objects.select_related("workshop")
    counted = entry_model.objects.filter(kind="counted").values("material")
    for material in materials.filter(pk__in=counted).order_by("pk").iterator():
        entries = list(
            entry_model.objects.filter(material=material)
            .select_related("purchase_line")
            .order_by("moved_on", "pk")
        )
        _fill(entries, until_its_day=True)
        figures = value_ledger(entries, material.workshop.valuation == "fifo")
        entry_model.objects.bulk_update(
            entries,
            ["counted", "change_at_count", "change", "unit_cost", "balance", "balance_value"],
            200,
        )
        for name, value in figures.items():
            setattr(material, name, value)
        material.save()

    offcut_entries = apps.get_model("catalogue", "OffcutEntry")
    offcuts = apps.get_model("catalogue", "Offcut").objects
    counted = offcut_entries.objects.filter(kind="counted").values("offcut")
    for offcut in offcuts.filter(pk__in=counted).order_by("pk"):
        entries = list(offcut_entries.objects.filter(offcut=offcut).order_by("moved_on", "pk"))
        # the box was counted against all that was in its ledger, whatever its day
        _fill(entries, until_its_day=False)
        undone = {entry.takes_back_id for entry in entries if entry.takes_back_id}
        balance = 0
        for entry in entries:
            if entry.takes_back_id is None and entry.pk not in undone:
                if entry.kind == "counted":
                    entry.change = entry.counted - balance
                balance += entry.change
        offcut_entries.objects.bulk_update(entries, ["counted", "change_at_count", "change"], 200)
        offcut.count = max(balance, 0)
        offcut.save()


class Migration(migrations.Migration):
    """Fills `counted` and `change_at_count`."""

    dependencies = [("catalogue", "0008_counts_that_stay")]

    operations = [migrations.RunPython(fill, migrations.RunPython.noop)]
