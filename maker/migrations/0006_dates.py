"""Hours of each weekday instead of hours of a day and a list of weekdays; dates that differ."""

import django.core.validators
import django.db.models.deletion
from django.db import migrations, models

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
MINUTES = [django.core.validators.MaxValueValidator(1440)]


def spread_hours(apps, schema_editor):
    """Give every weekday she works the minutes of her working day."""
    for workshop in apps.get_model("maker", "Workshop").objects.all():
        for number, name in enumerate(WEEKDAYS, 1):
            works = str(number) in workshop.working_weekdays
            minutes = min(max(round(workshop.hours_per_day * 60), 1), 1440) if works else 0
            setattr(workshop, f"{name}_minutes", minutes)
        workshop.save(update_fields=[f"{name}_minutes" for name in WEEKDAYS])


class Migration(migrations.Migration):
    dependencies = [("maker", "0005_slow_workers")]

    operations = [
        *(
            migrations.AddField(
                "workshop",
                f"{name}_minutes",
                models.PositiveSmallIntegerField(
                    default=0 if name in ("saturday", "sunday") else 210, validators=MINUTES
                ),
            )
            for name in WEEKDAYS
        ),
        migrations.AddField(
            "workshop", "buffer_days", models.PositiveSmallIntegerField(default=1)
        ),
        migrations.AddField("workshop", "proof_days", models.PositiveSmallIntegerField(default=3)),
        migrations.AddField(
            "workshop", "transit_days", models.PositiveSmallIntegerField(default=2)
        ),
        migrations.AddField(
            "workshop", "carrier_weekdays", models.CharField(default="123456", max_length=7)
        ),
        migrations.RunPython(spread_hours, migrations.RunPython.noop),
        migrations.RemoveConstraint("workshop", "workshop_hours_per_day_positive"),
        migrations.RemoveField("workshop", "hours_per_day"),
        migrations.RemoveField("workshop", "working_weekdays"),
        migrations.CreateModel(
            name="CalendarDate",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("kind", models.CharField(choices=[("off", "I don’t work"), ("hours", "I work other hours"), ("holiday", "Holiday for everybody"), ("carrier", "Carrier doesn’t come"), ("suppliers", "Suppliers don’t deliver")], default="off", max_length=9)),
                ("first_on", models.DateField()),
                ("last_on", models.DateField()),
                ("minutes", models.PositiveSmallIntegerField(blank=True, null=True, validators=MINUTES)),
                ("note", models.CharField(blank=True, max_length=80)),
                ("workshop", models.ForeignKey(on_delete=django.db.models.deletion.CASCADE, related_name="calendar_dates", to="maker.workshop")),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("last_on__gte", models.F("first_on"))), name="calendar_date_ends_after_it_begins"),
                    models.CheckConstraint(
                        condition=models.Q(
                            models.Q(("kind", "hours"), ("minutes__isnull", False)),
                            models.Q(models.Q(("kind", "hours"), _negated=True), ("minutes__isnull", True)),
                            _connector="OR",
                        ),
                        name="calendar_date_minutes_for_other_hours",
                    ),
                ],
            },
        ),
    ]
