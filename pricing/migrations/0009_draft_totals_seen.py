"""Drafts remember their total, to say when it moves by itself.

Lines of a quote are one order from now on: drafts that were looked at before say so once.
"""

from decimal import Decimal

import django.core.validators
from django.db import migrations, models


def mark_drafts(apps, schema_editor):
    drafts = apps.get_model("pricing", "Quote").objects.filter(state="draft")
    drafts.update(seen_edit=models.F("edit_number"))


class Migration(migrations.Migration):

    dependencies = [("pricing", "0008_label_sheet_lengths")]

    operations = [
        migrations.AddField(
            model_name="quote",
            name="seen_total",
            field=models.DecimalField(
                blank=True,
                decimal_places=6,
                max_digits=16,
                null=True,
                validators=[django.core.validators.MinValueValidator(Decimal("0"))],
            ),
        ),
        migrations.AddField(
            model_name="quote",
            name="seen_edit",
            field=models.PositiveIntegerField(blank=True, null=True),
        ),
        migrations.RunPython(mark_drafts, migrations.RunPython.noop),
    ]
