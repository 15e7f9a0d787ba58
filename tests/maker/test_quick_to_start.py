"""A command loads what it needs and no more: each of these is a tenth of a second or worse."""

import subprocess
import sys

import pytest

from maker.setup.place import ROOT

PROGRAM = """
import sys
from django.core.management import execute_from_command_line
import django, os
os.environ["DJANGO_SETTINGS_MODULE"] = "maker.settings"
django.setup()
import {module}
print(*sorted(name for name in {heavy!r} if name in sys.modules))
"""
HEAVY = (
    "catalogue.calc.cutting.planning",
    "django_tables2",
    "highspy",
    "numpy",
    "openpyxl",
    "pandas",
    "psycopg",
    "weasyprint",
)


@pytest.mark.parametrize(
    "module", ["pricing.management.commands.cost", "pricing.management.commands.order_result"]
)
def test_a_command_leaves_the_heavy_libraries_alone(module, tmp_path):
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM.format(module=module, heavy=HEAVY)],
        cwd=ROOT,
        env={"DATA_DIR": str(tmp_path), "PATH": ""},
        capture_output=True,
        text=True,
        check=False,
    )
    assert (done.returncode, done.stdout.strip()) == (0, ""), done.stdout + done.stderr


def test_the_list_is_of_modules_that_are_there():
    program = f"import importlib; [importlib.import_module(name) for name in {HEAVY!r}]"
    done = subprocess.run([sys.executable, "-c", program], cwd=ROOT, check=False)
    assert done.returncode == 0
