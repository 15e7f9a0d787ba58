"""The process that works on waiting plans: started when it is needed, one on each machine."""

from __future__ import annotations

import fcntl
import logging
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager

from django.conf import settings

from catalogue.cutting_plans.models import CuttingPlan
from catalogue.cutting_plans.working import claim_next, settle, work_on

logger = logging.getLogger("maker.plans")

COMMAND = "work_on_plans"
# the one before may just be ending: then the lock comes free in a moment
PATIENCE_S = 3.0
# a page that waits asks every second; a process costs a second of work to start
START_AGAIN_S = 15.0
NICENESS = 10
_started_at = 0.0


@contextmanager
def only_one_here(patience_s: float = PATIENCE_S) -> Iterator[bool]:
    """Hold the lock of this machine's data folder; gives False where another one has it.

    The system lets go of it when the process ends, however it ends.
    """
    settings.DATA_DIR.mkdir(parents=True, exist_ok=True)
    until = time.monotonic() + patience_s
    with (settings.DATA_DIR / "plans.lock").open("w") as file:
        while True:
            try:
                fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
            except BlockingIOError:
                if time.monotonic() > until:
                    yield False
                    return
                time.sleep(0.1)
            else:
                yield True
                return


def work_until_done() -> int:
    """Work on waiting plans until there is none; return how many were worked on."""
    done = 0
    while (plan := claim_next()) is not None:
        _work_on(plan)
        done += 1
    return done


def _work_on(plan: CuttingPlan) -> None:
    is_over = False
    try:
        work_on(plan)
        is_over = True
    finally:
        if not is_over:
            # a mistake of ours: it goes to the log, and the plan is not tried for ever
            logger.error("a plan was broken off", extra={"fields": {"plan": plan.pk}})
            settle(plan, None, refusal="Something went wrong while working on it.")


def start_worker(*, again: bool = False) -> bool:
    """Start the process, detached from this one; say whether it was started.

    `again` is for pages that wait: then not more often than every quarter of a minute.
    """
    global _started_at
    if not settings.PLAN_WORKER or (again and time.monotonic() - _started_at < START_AGAIN_S):
        return False
    _started_at = time.monotonic()
    try:
        # the shell ends at once, so that nobody has to wait for the worker; what the worker logs
        # goes where this process logs
        subprocess.run(  # noqa: S603  # our own interpreter and command
            ["/bin/sh", "-c", '"$@" >/dev/null </dev/null &', "sh", *worker_command()],
            cwd=settings.BASE_DIR,
            env={**os.environ, "DJANGO_SETTINGS_MODULE": "maker.settings"},
            start_new_session=True,
            check=True,
        )
    except (OSError, subprocess.CalledProcessError):
        # a machine without room for one more process: the plan waits, and its page tries again
        logger.exception("no worker could be started")
        return False
    return True


def worker_command() -> list[str]:
    """Return the command of the process."""
    return [sys.executable, "-m", "django", COMMAND]
