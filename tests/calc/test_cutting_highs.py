"""Runs of HiGHS end by the time they are given, however often their model was run before."""

import highspy

from catalogue.calc.cutting import watch
from catalogue.calc.cutting.highs import new_model, run_watched

# hundreds of times what one run takes, so that a busy machine does not matter
A_WHILE_S = 1.0


def packing_model(columns=120, rows=60):
    """A linear programme that takes a few milliseconds, anew each time its costs are changed."""
    model = new_model()
    for column in range(columns):
        model.addCol(-float(column * 37 % 50 + 1), 0.0, 1.0, 0, [], [])
    for row in range(rows):
        amounts = [float((row * 7 + column * 13) % 29 + 1) for column in range(columns)]
        model.addRow(-highspy.kHighsInf, columns * 5.0, columns, list(range(columns)), amounts)
    return model


def test_a_model_run_many_times_has_its_whole_time_again(monkeypatch):
    monkeypatch.setattr(watch, "usual_clock", watch.WallClock())
    model, course = packing_model(), watch.Course(600.0)
    for _ in range(100_000):
        if model.getRunTime() > A_WHILE_S:
            break
        model.clearSolver()
        run_watched(model, 60.0, course)
    assert model.getRunTime() > A_WHILE_S
    model.clearSolver()
    # HiGHS counts the time of all runs: by that count this one would be over before it began
    run_watched(model, A_WHILE_S, course)
    assert model.getModelStatus() == highspy.HighsModelStatus.kOptimal
