"""Receipts of one workshop are found by their day, however many others there are."""

from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [
        ("catalogue", "0012_looks_of_materials"),
        ("maker", "0015_mail_server"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddIndex(
            model_name="purchase",
            index=models.Index(fields=["workshop", "bought_on", "id"], name="receipts_by_day"),
        ),
    ]
