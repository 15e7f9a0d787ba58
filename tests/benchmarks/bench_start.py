"""What a start and a command cost beside bare Django, with nothing left to do."""

import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator

from maker.setup.place import ROOT
from tests.benchmarks import Row, measured

BARE_DJANGO = """
from django.conf import settings
settings.configure(INSTALLED_APPS=[])
import django
django.setup()
"""
DESIGN = "Meadow gift bag"


def run() -> Iterator[Row]:
    """Measure whole processes, with a data folder of their own."""
    with tempfile.TemporaryDirectory(prefix="pleat-bench-") as folder:
        env = {**os.environ, "DATA_DIR": folder}
        env.pop("DATABASE_URL", None)

        def process(*words: str) -> None:
            subprocess.run(
                [sys.executable, *words], env=env, cwd=ROOT, check=True, capture_output=True
            )

        process("manage.py", "prepare", "--with-demo")
        for note, words in (
            ("nothing to migrate", ("prepare",)),
            ("one figure with its whole sum", ("cost", DESIGN, "--quantity", "20")),
        ):
            yield measured(
                f"manage.py {words[0]}",
                lambda words=words: process("manage.py", *words),  # type: ignore[misc]
                lambda: process("-c", BARE_DJANGO),
                repeats=5,
                note=f"{note}; the baseline sets up an empty Django",
            )
