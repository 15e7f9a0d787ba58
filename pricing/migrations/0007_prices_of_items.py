"""A current price is one of a design with its options and colourway, not of the design alone."""

from django.db import migrations, models
from django.db.models.functions import Coalesce


class Migration(migrations.Migration):
    dependencies = [("pricing", "0006_made_and_bought")]

    operations = [
        migrations.RemoveConstraint(model_name="pricelistentry", name="one_current_price"),
        migrations.AddConstraint(
            model_name="pricelistentry",
            constraint=models.UniqueConstraint(
                "design",
                "channel",
                Coalesce("colourway", 0),
                "choices",
                "bought_at_once",
                condition=models.Q(replaced_at__isnull=True),
                name="one_current_price",
            ),
        ),
    ]
