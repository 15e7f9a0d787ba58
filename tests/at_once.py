"""Runs tasks at the same moment, each with a connection of its own."""

import threading
from collections.abc import Callable

from django.db import connection

from maker.calc.refusal import Refusal


def at_once(*tasks: Callable[[], object]) -> list[object]:
    """Run tasks in threads that start together; return results or refusals in their order."""
    gate = threading.Barrier(len(tasks))
    results: list[object] = [None] * len(tasks)

    def run(place: int, task: Callable[[], object]) -> None:
        gate.wait(10)
        try:
            results[place] = task()
        except Refusal as refusal:
            results[place] = refusal
        finally:
            connection.close()

    threads = [threading.Thread(target=run, args=pair) for pair in enumerate(tasks)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(30)
    assert not any(thread.is_alive() for thread in threads)
    return results
