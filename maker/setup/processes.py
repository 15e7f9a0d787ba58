"""How many processes serve and work, by the cores of the machine or as the environment says."""

import os

from maker.setup.place import MachineNotReady

MOST = 64
# more would help a workshop little, and each holds some 60 MB of its own
MOST_BY_ITSELF = 4


def cores() -> int:
    """Return how many cores this process may use."""
    return len(os.sched_getaffinity(0))


def web_processes() -> int:
    """Return how many processes answer light pages: one for each core, up to four."""
    return _said("WEB_PROCESSES", min(cores(), MOST_BY_ITSELF), least=1)


def heavy_processes() -> int:
    """Return how many answer heavy pages; 0: the others do that as well."""
    return _said("HEAVY_PROCESSES", 1 if cores() < MOST_BY_ITSELF else 2)


def slow_workers() -> int:
    """Return how many processes do slow work; 0 where they run elsewhere."""
    return _said("SLOW_WORKERS", 1)


def _said(name: str, default: int, least: int = 0) -> int:
    text = os.environ.get(name, str(default))
    is_number = text.isascii() and text.isdecimal() and len(text) <= len(str(MOST))
    if not (is_number and least <= int(text) <= MOST):
        raise MachineNotReady(f"{name} is {text!r}: use a whole number from {least} to {MOST}.")
    return int(text)
