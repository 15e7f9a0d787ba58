"""Links places and movements of finished stock to the fairs they belong to."""

import uuid

from django.db import migrations


def link_places(apps, schema_editor):
    """Give each place at a fair to the newest fair of its name: until now the name said whose."""
    Place, Fair = apps.get_model("pricing", "Place"), apps.get_model("pricing", "Fair")
    for place in Place.objects.filter(kind="fair").order_by("pk"):
        fairs = Fair.objects.filter(workshop=place.workshop_id, name=place.name, stock_place=None)
        fair = fairs.order_by("-pk").first()
        if fair is not None:
            fair.stock_place = place
            fair.save(update_fields=["stock_place"])


def link_lines(apps, schema_editor):
    """Say of each movement which line of a sale it was for: until now its form's key said so."""
    Move = apps.get_model("pricing", "FinishedMove")
    Line = apps.get_model("pricing", "FairSaleLine")
    keys = {
        uuid.uuid5(sale, str(line)): line
        for line, sale in Line.objects.order_by("pk").values_list("pk", "sale__uuid")
    }
    rows = Move.objects.filter(form_key__isnull=False).order_by("pk").only("form_key")
    found = [row for row in rows.iterator() if row.form_key in keys]
    for row in found:
        row.fair_line_id = keys[row.form_key]
    Move.objects.bulk_update(found, ["fair_line"], batch_size=200)
    # what undoes one belongs to the same line
    backs = list(Move.objects.filter(takes_back__in=found).select_related("takes_back"))
    for row in backs:
        row.fair_line_id = row.takes_back.fair_line_id
    Move.objects.bulk_update(backs, ["fair_line"], batch_size=200)


class Migration(migrations.Migration):
    dependencies = [("pricing", "0029_fair_stock")]

    operations = [
        migrations.RunPython(link_places, migrations.RunPython.noop, elidable=True),
        migrations.RunPython(link_lines, migrations.RunPython.noop, elidable=True),
    ]
