"""Long cutting plans as slow work: begun by a worker, begun again after a killed one."""

from typing import Any

from django.dispatch import receiver
from django_tasks import TaskResultStatus, task
from django_tasks.signals import task_finished

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.working import claim, give_up, work_on


@task()
def work_on_plan(plan_id: int) -> None:
    """Work out a plan that is still wanted; one that was removed or stopped meanwhile is left."""
    plan = CuttingPlan.objects.in_short().filter(pk=plan_id).first()
    if plan is not None and claim(plan):
        work_on(plan)


@receiver(task_finished, dispatch_uid="a plan nobody could work out")
def tell_of_failure(task_result: Any, **unused: Any) -> None:
    """Say at the plan that it cannot be worked out, when its task failed."""
    is_ours = task_result.task.module_path == work_on_plan.module_path
    if is_ours and task_result.status == TaskResultStatus.FAILED:
        give_up(*task_result.args, **task_result.kwargs)
