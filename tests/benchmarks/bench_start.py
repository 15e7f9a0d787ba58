"""What preparing a start costs beside importing Django, with nothing left to do."""

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator

from maker.setup.place import ROOT
from tests.benchmarks import Row, measured


def run() -> Iterator[Row]:
    """Measure whole processes, with a data folder of their own."""
    with tempfile.TemporaryDirectory(prefix="pleat-bench-") as folder:
        env = {**os.environ, "DATA_DIR": folder}
        env.pop("DATABASE_URL", None)

        def process(*words: str) -> None:
            subprocess.run([sys.executable, *words], env=env, cwd=ROOT, check=True)

        process("manage.py", "prepare")
        yield measured(
            "manage.py prepare",
            lambda: process("manage.py", "prepare"),
            lambda: process("-c", "import django.core.management"),
            repeats=5,
            note="nothing to migrate; the baseline imports Django",
        )
