"""Plans that wait, or were being worked on at the update, go on as tasks of the queue."""

import datetime

from django.db import migrations


def queue_what_waits(apps, schema_editor):
    CuttingPlan = apps.get_model("catalogue", "CuttingPlan")
    DBTaskResult = apps.get_model("django_tasks_database", "DBTaskResult")
    under_way = CuttingPlan.objects.filter(state__in=("waiting", "working")).order_by("asked_at", "pk")
    for key in under_way.values_list("pk", flat=True):
        DBTaskResult.objects.create(
            args_kwargs={"args": [key], "kwargs": {}},
            task_path="catalogue.cutting_plans.tasks.work_on_plan",
            backend_name="default",
            # how the queue writes "as soon as possible"
            run_after=datetime.datetime(9999, 1, 1, tzinfo=datetime.timezone.utc),
            exception_class_path="",
            traceback="",
        )


class Migration(migrations.Migration):

    dependencies = [
        ("catalogue", "0006_usual_batch"),
        ("django_tasks_database", "0021_conditional_partial_index_ordering"),
    ]

    operations = [
        migrations.RemoveField(model_name="cuttingplan", name="beat_at"),
        migrations.RemoveField(model_name="cuttingplan", name="tries"),
        migrations.RunPython(queue_what_waits, migrations.RunPython.noop),
    ]
