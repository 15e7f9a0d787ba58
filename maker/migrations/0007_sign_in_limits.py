from django.db import migrations, models


def name_who_looks_after(apps, schema_editor):
    """The first person of an installation is the one who set it up."""
    User = apps.get_model("maker", "User")
    first = User.objects.filter(is_active=True).order_by("pk").first()
    if first is not None:
        User.objects.filter(pk=first.pk).update(looks_after_installation=True)


class Migration(migrations.Migration):

    dependencies = [
        ('maker', '0006_dates'),
    ]

    operations = [
        migrations.AddField(
            model_name='user',
            name='looks_after_installation',
            field=models.BooleanField(default=False),
        ),
        migrations.RunPython(name_who_looks_after, migrations.RunPython.noop),
        migrations.CreateModel(
            name='Try',
            fields=[
                ('id', models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name='ID')),
                ('key', models.CharField(max_length=64)),
                ('at', models.DateTimeField()),
            ],
            options={
                'indexes': [models.Index(fields=['key', 'at'], name='tries_of_a_key'), models.Index(fields=['at'], name='tries_by_age')],
            },
        ),
        # What the library counted with that did this before: whole addresses, kept for ever.
        migrations.RunSQL(
            [
                "DROP TABLE IF EXISTS axes_accessattemptexpiration",
                "DROP TABLE IF EXISTS axes_accessattempt",
                "DROP TABLE IF EXISTS axes_accessfailurelog",
                "DROP TABLE IF EXISTS axes_accesslog",
                "DELETE FROM django_migrations WHERE app = 'axes'",
            ],
            migrations.RunSQL.noop,
        ),
    ]
