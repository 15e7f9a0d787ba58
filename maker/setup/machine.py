"""System packages: finds out what is missing and installs it, or names the exact command."""

# ruff: noqa: S603 - every command is a list built here, and none goes through a shell

import ctypes
import importlib
import os
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from maker.setup.place import MachineNotReady, say

# How other systems get Pango and HarfBuzz: WeasyPrint documentation, "First Steps", Installation.
# The package names for Fedora and openSUSE beyond that page: common practice, no source.
OTHER_MANAGERS = (
    ("dnf", "sudo dnf install -y python3 python3-pip pango harfbuzz"),
    ("zypper", "sudo zypper install -y libpango-1_0-0 libharfbuzz-subset0"),
    ("pacman", "sudo pacman -S --needed python python-pip pango harfbuzz"),
    (
        "apk",
        "doas apk add py3-pip so:libpango-1.0.so.0 so:libpangoft2-1.0.so.0 "
        "so:libharfbuzz-subset.so.0",
    ),
    ("brew", "brew install python pango harfbuzz"),
)
POSTGRES_FOLDERS = Path("/usr/lib/postgresql")


class SystemPackagesMissing(MachineNotReady):
    """Something only the system's package manager can bring is missing."""


@dataclass(frozen=True)
class SystemPart:
    """Something outside Python that the project needs."""

    words: str
    package: str
    present: Callable[[], bool]


def has_library(file_name: str) -> bool:
    """Say whether the loader finds the shared library."""
    try:
        ctypes.CDLL(file_name)
    except OSError:
        return False
    return True


def has_venv() -> bool:
    """Say whether this Python can make an environment with pip in it (Debian splits that off)."""
    importlib.invalidate_caches()
    return find_spec("venv") is not None and find_spec("ensurepip") is not None


def chromium() -> str | None:
    """Return the path of the system's Chromium."""
    return shutil.which("chromium") or shutil.which("chromium-browser")


def postgres_program(name: str) -> str | None:
    """Return the path of a PostgreSQL server program; Debian keeps them off the PATH."""
    versions = sorted(
        (folder for folder in POSTGRES_FOLDERS.glob("*") if folder.name.isdigit()),
        key=lambda folder: int(folder.name),
    )
    for folder in reversed(versions):
        if (program := folder / "bin" / name).exists():
            return str(program)
    return shutil.which(name)


VENV_PART = SystemPart("Python's venv module", f"python3.{sys.version_info.minor}-venv", has_venv)
PDF_PARTS = (
    SystemPart(
        "the Pango library (for PDFs)",
        "libpango-1.0-0",
        lambda: has_library("libpango-1.0.so.0"),
    ),
    SystemPart(
        "the PangoFT2 library (for PDFs)",
        "libpangoft2-1.0-0",
        lambda: has_library("libpangoft2-1.0.so.0"),
    ),
    SystemPart(
        "the HarfBuzz subset library (for PDFs)",
        "libharfbuzz-subset0",
        lambda: has_library("libharfbuzz-subset.so.0"),
    ),
)
PARTS_TO_RUN = (VENV_PART, *PDF_PARTS)
PARTS_TO_VERIFY = (
    SystemPart("Chromium", "chromium", lambda: chromium() is not None),
    SystemPart(
        "certutil (to let Chromium trust a certificate)",
        "libnss3-tools",
        lambda: shutil.which("certutil") is not None,
    ),
    SystemPart("PostgreSQL", "postgresql", lambda: postgres_program("initdb") is not None),
    SystemPart(
        "the atomic library (for the browser's driver)",
        "libatomic1",
        lambda: has_library("libatomic.so.1"),
    ),
    SystemPart("pdftoppm", "poppler-utils", lambda: shutil.which("pdftoppm") is not None),
    SystemPart("LibreOffice Calc", "libreoffice-calc", lambda: shutil.which("localc") is not None),
)


def ensure_parts(parts: Iterable[SystemPart]) -> None:
    """Install the system packages that are missing, as root or through sudo."""
    parts = tuple(parts)
    missing = [part for part in parts if not part.present()]
    if not missing:
        return
    words = ", ".join(part.words for part in missing)
    packages = [part.package for part in missing]
    if shutil.which("apt-get") is None:
        raise SystemPackagesMissing(f"Missing: {words}. {_remedy_without_apt()}")
    by_hand = f"apt-get update && apt-get install -y {' '.join(packages)}"
    prefix = _as_root()
    if prefix is None:
        raise SystemPackagesMissing(
            f"Missing: {words}. This needs root and there is no usable sudo: "
            f"let root run `{by_hand}`, then run this again."
        )
    say(f"Installing system packages: {' '.join(packages)}")
    problem = _apt_install(prefix, packages)
    missing = [part for part in missing if not part.present()]
    if missing:
        raise SystemPackagesMissing(
            f"Missing: {', '.join(part.words for part in missing)}. apt-get could not install it"
            f"{f' ({problem})' if problem else ''}: run `sudo sh -c '{by_hand}'` and see what it "
            "says, then run this again."
        )


def _remedy_without_apt() -> str:
    for manager, command in OTHER_MANAGERS:
        if shutil.which(manager):
            return f"There is no apt-get here: run `{command}`, then run this again."
    return (
        "There is no apt-get here: install these with this system's own package manager, "
        "then run this again (Debian 12 and Ubuntu 24.04 need nothing by hand)."
    )


def _as_root() -> list[str] | None:
    """Return what to put before a command to run it as root, or None when there is no way."""
    if os.geteuid() == 0:
        return []
    sudo = shutil.which("sudo")
    if sudo is None:
        return None
    if sys.stdin is not None and sys.stdin.isatty():
        return [sudo]
    # Nobody is there to type a password, so ask sudo whether it needs one.
    allowed = subprocess.run([sudo, "-n", "true"], capture_output=True, check=False)
    return [sudo, "-n"] if allowed.returncode == 0 else None


def _apt_install(prefix: Sequence[str], packages: Sequence[str]) -> str:
    """Install, refreshing apt's lists only when that is needed; return apt's last complaint."""
    quiet = [
        *prefix,
        "env",
        "DEBIAN_FRONTEND=noninteractive",
        "apt-get",
        "-qq",
        "-o=Dpkg::Use-Pty=0",
    ]
    install = [*quiet, "install", "-y", "--no-install-recommends", *packages]
    commands = (install, [*quiet, "update"], install)
    complaint = ""
    for command in commands:
        answer = subprocess.run(command, capture_output=True, text=True, check=False)
        if answer.returncode == 0:
            if command is install:
                return ""
        else:
            lines = (answer.stderr or answer.stdout).strip().splitlines()
            complaint = lines[-1] if lines else f"exit code {answer.returncode}"
    return complaint
