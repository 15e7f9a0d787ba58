"""Expenses: what was paid for that never comes into stock."""

import django.core.validators
import django.db.models.deletion
from decimal import Decimal
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("catalogue", "0015_plain_words"),
        ("maker", "0022_longer_file_types"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="Expense",
            fields=[
                (
                    "id",
                    models.BigAutoField(
                        auto_created=True, primary_key=True, serialize=False, verbose_name="ID"
                    ),
                ),
                ("paid_on", models.DateField()),
                ("what", models.CharField(max_length=120)),
                (
                    "category",
                    models.CharField(
                        choices=[
                            ("rent", "Rent and power"),
                            ("insurance", "Insurance"),
                            ("software", "Software and phone"),
                            ("travel", "Travel and van hire"),
                            ("stall", "Stall fees"),
                            ("adverts", "Advertising"),
                            ("tools", "Tools and machines"),
                            ("repairs", "Repairs"),
                            ("office", "Office and post"),
                            ("fees", "Fees and training"),
                            ("other", "Other"),
                        ],
                        default="other",
                        max_length=10,
                    ),
                ),
                (
                    "purpose",
                    models.CharField(
                        choices=[
                            ("overhead", "Overhead"),
                            ("shared", "Several orders or fairs"),
                            ("order", "One order"),
                            ("fair", "One fair"),
                        ],
                        default="overhead",
                        max_length=10,
                    ),
                ),
                ("position", models.PositiveSmallIntegerField(default=0)),
                (
                    "amount",
                    models.DecimalField(blank=True, decimal_places=6, max_digits=16, null=True),
                ),
                ("net", models.DecimalField(decimal_places=6, default=Decimal("0"), max_digits=16)),
                (
                    "tax_paid",
                    models.DecimalField(decimal_places=6, default=Decimal("0"), max_digits=16),
                ),
                ("tax_is_recoverable", models.BooleanField(default=False)),
                (
                    "cost",
                    models.DecimalField(decimal_places=6, default=Decimal("0"), max_digits=16),
                ),
                (
                    "lasts_years",
                    models.PositiveSmallIntegerField(
                        blank=True,
                        null=True,
                        validators=[
                            django.core.validators.MinValueValidator(1),
                            django.core.validators.MaxValueValidator(50),
                        ],
                    ),
                ),
                (
                    "repeats",
                    models.CharField(
                        blank=True,
                        choices=[("month", "Every month"), ("year", "Every year")],
                        max_length=5,
                    ),
                ),
                ("repeats_until", models.DateField(blank=True, null=True)),
                ("due_on", models.DateField(blank=True, null=True)),
                ("reference", models.CharField(blank=True, max_length=80)),
                ("notes", models.TextField(blank=True, max_length=4000)),
                ("edit_number", models.PositiveIntegerField(default=0)),
                ("form_key", models.UUIDField(blank=True, null=True, unique=True)),
                ("added_at", models.DateTimeField(auto_now_add=True)),
                ("deleted_at", models.DateTimeField(blank=True, null=True)),
                (
                    "added_by",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.SET_NULL,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
                (
                    "purchase",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="expenses",
                        to="catalogue.purchase",
                    ),
                ),
                (
                    "repeat_of",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="repeated",
                        to="catalogue.expense",
                    ),
                ),
                (
                    "supplier",
                    models.ForeignKey(
                        blank=True,
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="expenses",
                        to="catalogue.supplier",
                    ),
                ),
                (
                    "workshop",
                    models.ForeignKey(
                        on_delete=django.db.models.deletion.CASCADE,
                        related_name="expenses",
                        to="maker.workshop",
                    ),
                ),
            ],
            options={
                "indexes": [
                    models.Index(fields=["workshop", "paid_on", "id"], name="expenses_by_day")
                ],
                "constraints": [
                    models.UniqueConstraint(
                        fields=("repeat_of", "due_on"), name="repeated_once_a_date"
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("lasts_years__isnull", True),
                            models.Q(("lasts_years__gte", 1), ("lasts_years__lte", 50)),
                            _connector="OR",
                        ),
                        name="expense_lasts_some_years",
                    ),
                    models.CheckConstraint(
                        condition=models.Q(
                            ("repeat_of__isnull", True), ("repeats", ""), _connector="OR"
                        ),
                        name="what_is_repeated_repeats_nothing",
                    ),
                ],
            },
        ),
    ]
