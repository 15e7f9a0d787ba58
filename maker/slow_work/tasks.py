"""The one task of the queue behind all work that people ask for and watch."""

from typing import Any

from django.dispatch import receiver
from django_tasks import TaskResultStatus, task
from django_tasks.signals import task_finished

from maker.slow_work.doing import do, fail


@task()
def do_work(work_id: int) -> None:
    """Do a piece of work that is still wanted."""
    do(work_id)


@receiver(task_finished, dispatch_uid="work that went wrong")
def tell_of_failure(task_result: Any, **unused: Any) -> None:
    """Say at the work that it went wrong, when its task failed."""
    is_ours = task_result.task.module_path == do_work.module_path
    if is_ours and task_result.status == TaskResultStatus.FAILED:
        fail(*task_result.args, **task_result.kwargs)
