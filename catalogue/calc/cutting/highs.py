"""Runs HiGHS models in one thread of their own, so that a run can be left when it must end.

HiGHS looks at its time limit and at an interruption only between pieces of work that may take
seconds. A run that is not wanted any more is told to end and left to do so by itself.
"""

from __future__ import annotations

from threading import Thread
from typing import Any

from catalogue.calc.cutting.watch import Course, PlanCancelled

LOOK_EVERY_S = 0.05
GRACE_S = 0.5
# by the real clock, for a run that is counted: HiGHS may be busy for minutes without asking once
LONGEST_COUNTED_S = 15


class RunLeft(Exception):
    """The run did not end in time; its model must not be used again."""


def new_model() -> Any:
    """Return an empty, silent model that gives the same answer each time."""
    import highspy

    # highspy.Highs prints a banner on standard output before it can be told not to
    new: Any = highspy._Highs  # type: ignore[attr-defined]  # missing from its type file
    model = new()
    for option, value in (
        ("output_flag", False),
        ("threads", 1),
        ("random_seed", 0),
        ("parallel", "off"),
    ):
        model.setOptionValue(option, value)
    return model


def run_watched(model: Any, seconds: float, course: Course) -> None:
    """Run the model for at most about so many seconds; raise RunLeft when it goes on longer."""
    import highspy

    model.startCallback(highspy.cb.kCallbackMipInterrupt)
    model.startCallback(highspy.cb.kCallbackSimplexInterrupt)
    if course.counts_work:
        _run_counted(model, seconds, course)
    else:
        _run_timed(model, seconds, course)
    model.setCallback(None, None)


def _run_timed(model: Any, seconds: float, course: Course) -> None:
    """Run beside this thread, which looks at the clock."""
    unwanted = False

    def interrupt(kind: Any, message: Any, told: Any, answer: Any, data: Any) -> None:
        answer.user_interrupt = unwanted

    _limit(model, seconds)
    model.setCallback(interrupt, None)
    run = Thread(target=model.run, name="cutting plan")
    until = course.clock() + seconds + GRACE_S
    run.start()
    try:
        run.join(LOOK_EVERY_S)
        while run.is_alive():
            if course.clock() > until:
                raise RunLeft
            run.join(LOOK_EVERY_S)
    finally:
        unwanted = True


def _limit(model: Any, seconds: float) -> None:
    """Let the next run end after so many seconds: HiGHS adds up the time of all runs of a model."""
    model.setOptionValue("time_limit", model.getRunTime() + seconds)


def _run_counted(model: Any, seconds: float, course: Course) -> None:
    """Run in this thread; each time HiGHS asks whether to go on is a step of the clock.

    Inside its own searches HiGHS does not ask, but it keeps to a time limit. That is set so far
    away that it ends only what would hang.
    """
    until = course.clock() + seconds
    refused: list[PlanCancelled] = []

    def interrupt(kind: Any, message: Any, told: Any, answer: Any, data: Any) -> None:
        try:
            answer.user_interrupt = course.clock() > until
        except PlanCancelled as refusal:
            # HiGHS must come back by itself: nothing is thrown through it
            refused.append(refusal)
            answer.user_interrupt = True

    _limit(model, LONGEST_COUNTED_S)
    model.setCallback(interrupt, None)
    model.run()
    if refused:
        raise refused[0]
