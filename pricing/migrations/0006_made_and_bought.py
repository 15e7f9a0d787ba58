"""Tells what is made at once from what one buyer takes and pays at once.

A fair and a web shop sell one by one; other channels sell what is ordered. Several payments
without a deposit stood for several buyers there: each of them pays once.
"""

import django.core.validators
from django.db import migrations, models


def tell_buyers_apart(apps, schema_editor):
    channels = apps.get_model("pricing", "Channel").objects.filter(kind__in=("fair", "online"))
    channels.update(bought_at_once=1)
    tiers = apps.get_model("pricing", "ChannelTier").objects
    tiers.filter(channel__in=channels, deposit_share=0).update(payments_per_sale=1)


class Migration(migrations.Migration):

    dependencies = [
        ("catalogue", "0006_usual_batch"),
        ("pricing", "0005_price_in_depth"),
    ]

    operations = [
        migrations.RemoveConstraint(model_name="channeltier", name="tier_counts_from_one"),
        migrations.RemoveConstraint(model_name="channeltier", name="one_tier_per_quantity"),
        migrations.RemoveConstraint(model_name="pricelistentry", name="one_current_price"),
        migrations.RenameField("channeltier", "from_quantity", "bought_at_once"),
        migrations.RenameField("channeltier", "payments", "payments_per_sale"),
        migrations.RenameField("pricelistentry", "from_quantity", "bought_at_once"),
        migrations.RenameField("pricelistentry", "made_in", "made_at_once"),
        migrations.AddField(
            model_name="channel",
            name="bought_at_once",
            field=models.PositiveIntegerField(
                blank=True,
                null=True,
                validators=[django.core.validators.MinValueValidator(1)],
            ),
        ),
        migrations.AddConstraint(
            model_name="channel",
            constraint=models.CheckConstraint(
                condition=models.Q(
                    ("bought_at_once__isnull", True), ("bought_at_once__gte", 1), _connector="OR"
                ),
                name="channel_buyer_takes_one",
            ),
        ),
        migrations.AddConstraint(
            model_name="channeltier",
            constraint=models.UniqueConstraint(
                fields=("channel", "bought_at_once"), name="one_tier_per_quantity"
            ),
        ),
        migrations.AddConstraint(
            model_name="channeltier",
            constraint=models.CheckConstraint(
                condition=models.Q(("bought_at_once__gte", 1), ("payments_per_sale__gte", 1)),
                name="tier_counts_from_one",
            ),
        ),
        migrations.AddConstraint(
            model_name="pricelistentry",
            constraint=models.UniqueConstraint(
                condition=models.Q(("replaced_at__isnull", True)),
                fields=("design", "channel", "bought_at_once"),
                name="one_current_price",
            ),
        ),
        migrations.RunPython(tell_buyers_apart, migrations.RunPython.noop),
    ]
