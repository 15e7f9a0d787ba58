"""Says of each movement which settled item it was for: until now its form's key said so."""

import uuid

from django.db import migrations


def link_settled(apps, schema_editor):
    Move = apps.get_model("pricing", "FinishedMove")
    Item = apps.get_model("pricing", "FinishedItem")
    Settled = apps.get_model("pricing", "SettledItem")
    for settled in Settled.objects.select_related("settlement").order_by("pk"):
        form_key = settled.settlement.form_key
        item = Item.objects.filter(
            version=settled.version_id,
            colourway_name=settled.colourway_name,
            choices=settled.choices,
        ).first()
        if form_key is None or item is None:
            continue
        key = uuid.uuid5(form_key, f"settled {item.pk}")
        move = Move.objects.filter(form_key=key).first()
        if move is not None:
            same = [move.pk, *Move.objects.filter(takes_back=move).values_list("pk", flat=True)]
            Move.objects.filter(pk__in=same).update(settled=settled)


class Migration(migrations.Migration):
    dependencies = [("pricing", "0031_settled_moves")]

    operations = [migrations.RunPython(link_settled, migrations.RunPython.noop, elidable=True)]
