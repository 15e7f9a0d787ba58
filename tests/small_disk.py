"""Runs a scene of tests/maker/on_small_disk.py on a small disk that nobody else sees."""

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from django.conf import settings
from django.db import connection

SIZE = "40m"
# util-linux: root of a namespace of one's own may mount, whoever one is outside of it
SCRIPT = 'mount -t tmpfs -o size=$1 pleat "$2" && exec "$3" -m tests.maker.on_small_disk "$4" "$2"'


def on_small_disk(scene: str, folder: Path) -> dict[str, Any]:
    """Return what the scene told."""
    if connection.vendor != "sqlite":
        pytest.skip("the scenes bring an SQLite database of their own: once is enough")
    own = [str(shutil.which("unshare")), "--user", "--map-root-user", "--mount"]
    if subprocess.run([*own, "true"], capture_output=True, check=False).returncode:
        pytest.skip("this machine lets nobody mount a disk of his own")
    done = subprocess.run(
        [*own, "sh", "-c", SCRIPT, "sh", SIZE, str(folder), sys.executable, scene],
        cwd=settings.BASE_DIR,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-3000:]
    told: dict[str, Any] = json.loads(done.stdout)
    return told
