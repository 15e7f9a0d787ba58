"""Says in one line why this Python cannot run the project; itself readable by any Python 3."""

# ruff: noqa: S603 - every command is a list built here, and none goes through a shell

import os
import shutil
import subprocess
from collections.abc import Sequence

NEEDED = (3, 11)
NEWER_MINORS = (14, 13, 12, 11)


def why_unfit(version: "Sequence[object]", system: str = os.name) -> "str | None":
    """Return what is wrong and its exact remedy, or None when this Python will do."""
    if system == "nt":
        return "Pleat & Penny runs on Linux; on Windows start it inside WSL (wsl --install Debian)."
    if tuple(version[:2]) >= NEEDED:
        return None
    found = ".".join(str(part) for part in version[:3])
    return f"Pleat & Penny needs Python 3.11 or newer, and this is {found}: {_remedy()}"


def _remedy() -> str:
    for minor in NEWER_MINORS:
        if _runs(f"python3.{minor}"):
            return f"run the same command with python3.{minor} instead of python3."
    for minor in NEWER_MINORS:
        if _apt_has(f"python3.{minor}"):
            packages = f"python3.{minor} python3.{minor}-venv"
            return (
                f"run `sudo apt-get install -y {packages}`, "
                f"then the same command with python3.{minor} instead of python3."
            )
    return "Debian 12 and Ubuntu 24.04 bring one, so upgrade the system or use another machine."


def _runs(program: str) -> bool:
    """Say whether the program is there and starts; a version switcher's stand-in may not."""
    if not shutil.which(program):
        return False
    answer = subprocess.run(
        [program, "-c", ""], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, check=False
    )
    return answer.returncode == 0


def _apt_has(package: str) -> bool:
    if not shutil.which("apt-cache"):
        return False
    answer = subprocess.run(
        ["apt-cache", "--quiet=2", "search", "--names-only", f"^{package}$"],  # noqa: S607 - on PATH
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        check=False,
    )
    return bool(answer.stdout.strip())
