import django.core.validators
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ("catalogue", "0005_price_in_depth"),
    ]

    operations = [
        migrations.AddField(
            model_name="design",
            name="made_at_once",
            field=models.PositiveIntegerField(
                default=1, validators=[django.core.validators.MinValueValidator(1)]
            ),
        ),
        migrations.AddConstraint(
            model_name="design",
            constraint=models.CheckConstraint(
                condition=models.Q(("made_at_once__gte", 1)), name="design_batch_from_one"
            ),
        ),
    ]
