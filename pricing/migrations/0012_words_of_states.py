from django.db import migrations, models


class Migration(migrations.Migration):

    dependencies = [
        ('pricing', '0011_orders'),
    ]

    operations = [
        migrations.AlterField(
            model_name='pricedecision',
            name='kind',
            field=models.CharField(choices=[('change', 'changed'), ('until', 'reminder set'), ('leave', 'ignored unless costs change')], max_length=10),
        ),
        migrations.AlterField(
            model_name='quote',
            name='reason',
            field=models.CharField(blank=True, choices=[('', 'not given'), ('price', 'price'), ('date', 'date'), ('style', 'style'), ('other', 'something else')], default='', max_length=10),
        ),
        migrations.AlterField(
            model_name='quote',
            name='state',
            field=models.CharField(choices=[('draft', 'draft'), ('sent', 'sent'), ('replaced', 'replaced by a revision'), ('accepted', 'accepted'), ('declined', 'declined'), ('discarded', 'deleted draft')], default='draft', max_length=10),
        ),
    ]
