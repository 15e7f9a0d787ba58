import django.db.models.deletion
from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ("catalogue", "0002_supplier_edit_number"),
        ("pricing", "0003_budget"),
    ]

    operations = [
        migrations.AddField(
            model_name="quoteline",
            name="colourway_name",
            field=models.CharField(blank=True, max_length=80),
        ),
        migrations.AddField(
            model_name="quoteline",
            name="is_removed",
            field=models.BooleanField(default=False),
        ),
        migrations.AlterField(
            model_name="quoteline",
            name="colourway",
            field=models.ForeignKey(
                blank=True,
                null=True,
                on_delete=django.db.models.deletion.SET_NULL,
                related_name="quote_lines",
                to="catalogue.colourway",
            ),
        ),
    ]
