"""How much memory a call takes at its peak, beyond what the process held before it (Linux)."""

import gc
from collections.abc import Callable
from pathlib import Path

STATUS, CLEAR = Path("/proc/self/status"), Path("/proc/self/clear_refs")
# proc(5): writing 5 sets the peak of the resident size back to what is resident now
FORGET_PEAK = "5"
KIB = 1024


def peak_of(call: Callable[[], object]) -> str:
    """Return the peak of a call as words; “?” where the system does not tell."""
    gc.collect()
    try:
        CLEAR.write_text(FORGET_PEAK)
        before = _kib("VmRSS")
        call()
        return f"{max(_kib('VmHWM') - before, 0) / KIB:.0f} MiB more at its peak"
    except OSError:
        call()
        return "? MiB"


def _kib(name: str) -> int:
    for line in STATUS.read_text().splitlines():
        if line.startswith(f"{name}:"):
            return int(line.split()[1])
    raise OSError(f"{STATUS} says no {name}")
