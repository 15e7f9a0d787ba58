"""Sums of months that are over are kept, so that ten years of spending open quickly."""

import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("maker", "0015_mail_server"),
        ("pricing", "0009_draft_totals_seen"),
    ]

    operations = [
        migrations.CreateModel(
            name="KeptSpending",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("until", models.DateField()),
                ("version", models.CharField(max_length=64)),
                ("spent", models.JSONField()),
                ("moved", models.JSONField()),
                (
                    "workshop",
                    models.OneToOneField(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="kept_spending",
                        to="maker.workshop",
                    ),
                ),
            ],
        ),
    ]
