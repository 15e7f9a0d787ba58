"""What the set-up tests stage for real: another user, a bare Python, packages to install."""

import base64
import hashlib
import os
import pwd
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

import pytest

from maker.setup.place import ROOT
from tests.patience import PATIENCE_S

# What these tests set themselves must not come from the machine they run on.
FOREIGN = ("PIP_", "DATABASE_URL", "DATA_DIR", "SECRET_KEY", "PLEAT_", "ALLOWED_HOSTS")


def clean_env(**settings: str) -> dict[str, str]:
    """Return this process's environment without its settings for pip and the project."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(FOREIGN)}
    return {**kept, **settings}


def python_for_everyone() -> str:
    """Return a Python, new enough, that users other than root may run too."""
    for candidate in (
        sys.executable,
        *(f"/usr/bin/python3.{minor}" for minor in range(14, 10, -1)),
    ):
        if not Path(candidate).exists():
            continue
        with suppress(PermissionError):
            subprocess.run([candidate, "-c", ""], check=True, **as_nobody())
            return candidate
    pytest.skip("no Python here that a user other than root may run")


def as_nobody() -> dict[str, Any]:
    """Return how subprocess runs something without root's rights (as it is when not root)."""
    if os.geteuid() != 0:
        return {}
    nobody = pwd.getpwnam("nobody")
    return {"user": nobody.pw_uid, "group": nobody.pw_gid, "extra_groups": [], "cwd": "/"}


def lay_out_project(folder: Path) -> Path:
    """Copy what a bare Python needs of the project, readable by everyone."""
    root = folder / "pleat"
    for part in ("setup", "calc"):
        shutil.copytree(
            ROOT / "maker" / part,
            root / "maker" / part,
            ignore=shutil.ignore_patterns("__pycache__"),
        )
    shutil.copy(ROOT / "maker" / "__init__.py", root / "maker")
    shutil.copy(ROOT / "manage.py", root)
    for place in (root, *root.rglob("*")):
        place.chmod(0o755)
    for parent in root.parents:
        if parent.stat().st_uid == os.geteuid() and parent != Path("/"):
            parent.chmod(parent.stat().st_mode | 0o711)
    return root


def run_in(
    root: Path, code: str, *, python: str = sys.executable, env: Mapping[str, str], **how: Any
) -> subprocess.CompletedProcess[str]:
    """Run a few lines with only the set-up part of the project on the path."""
    program = f"import sys; sys.path.insert(0, {str(root)!r})\n{code}"
    return subprocess.run(
        [python, "-B", "-c", program],
        env=dict(env),
        capture_output=True,
        text=True,
        check=False,
        timeout=PATIENCE_S,
        **how,
    )


def make_wheel(folder: Path, name: str, version: str) -> str:
    """Write a wheel with one module and return its line for a hashed requirements file."""
    info = f"{name}-{version}.dist-info"
    files = {
        f"{name}.py": f"VERSION = {version!r}\n",
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: {name}\nVersion: {version}\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = "".join(
        f"{path},sha256={_record_hash(text)},{len(text)}\n" for path, text in files.items()
    )
    files[f"{info}/RECORD"] = f"{record}{info}/RECORD,,\n"
    wheel = folder / f"{name}-{version}-py3-none-any.whl"
    with zipfile.ZipFile(wheel, "w") as archive:
        for path, text in files.items():
            archive.writestr(path, text)
    return f"{name}=={version} --hash=sha256:{hashlib.sha256(wheel.read_bytes()).hexdigest()}\n"


def _record_hash(text: str) -> str:
    digest = hashlib.sha256(text.encode()).digest()
    return base64.urlsafe_b64encode(digest).rstrip(b"=").decode()


def put_programs(folder: Path, programs: Mapping[str, str]) -> str:
    """Write small shell programs and return a PATH on which only they are found."""
    folder.mkdir(exist_ok=True)
    for name, script in programs.items():
        program = folder / name
        program.write_text(f"#!/bin/sh\n{script}\n")
        program.chmod(0o755)
    return str(folder)


def last_line(lines: str | Sequence[str]) -> str:
    """Return the last line that says something."""
    texts = lines.splitlines() if isinstance(lines, str) else lines
    return [text for text in texts if text.strip()][-1]
