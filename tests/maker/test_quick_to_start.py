"""A command loads what it needs and no more: most of these are a tenth of a second or worse."""

import subprocess
import sys
from importlib.util import find_spec

import pytest

from maker.setup.place import ROOT

PROGRAM = """
import sys
sys.argv[0] = "manage.py"
from maker.setup import commands
try:
    commands._run_django({words!r})
except SystemExit as end:
    assert not end.code, end.code
print(*sorted(name for name in {heavy!r} if name in sys.modules), file=sys.stderr)
"""
HEAVY = (
    "catalogue.calc.cutting.planning",
    "cryptography",
    "catalogue.calc.flat_patterns",
    "django.contrib.admin",
    "django.contrib.sitemaps",
    "django.contrib.syndication.views",
    "django.views.debug",
    "django_tables2",
    "highspy",
    "maker.setup.machine",
    "maker.setup.server",
    "maker.setup.verify",
    "maker.urls",
    "numpy",
    "openpyxl",
    "pandas",
    "psycopg",
    "weasyprint",
    "webauthn",
)
REEL = """
import sys
from decimal import Decimal
from catalogue.calc.reels.planning import Length, Reel, ReelJob, plan_reels
reels = Reel("ends", Decimal(900), Decimal(1), 2), Reel("whole", Decimal(25000), Decimal(4))
lengths = Length("bow", Decimal(250), 37), Length("tie", Decimal(310), 50)
plan = plan_reels(ReelJob(reels, lengths, cut_loss_mm=Decimal(2)))
assert plan.proven, plan
print(*sorted(name for name in ("highspy", "numpy") if name in sys.modules))
"""


def python(program, **settings):
    """Run a program in a fresh Python with these settings and no others."""
    return subprocess.run(
        [sys.executable, "-c", program],
        cwd=ROOT,
        env={"PATH": "", **settings},
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.mark.parametrize("command", ["cost", "order_result"])
def test_a_command_leaves_the_heavy_libraries_alone(command, tmp_path):
    program = PROGRAM.format(words=[command, "--help"], heavy=HEAVY)
    done = python(program, DATA_DIR=str(tmp_path))
    assert (done.returncode, done.stderr.strip()) == (0, ""), done.stdout + done.stderr
    assert done.stdout.startswith("usage: manage.py")


def test_reels_that_are_easily_proved_best_need_no_numpy():
    done = python(REEL)
    assert (done.returncode, done.stdout.strip()) == (0, ""), done.stdout + done.stderr


def test_rubbish_is_collected_again_once_all_is_loaded(tmp_path):
    seen = "import gc; print(gc.isenabled(), gc.get_freeze_count() > 50_000)"
    program = PROGRAM.format(words=["shell", "--no-imports", "-c", seen], heavy=())
    done = python(program, DATA_DIR=str(tmp_path))
    assert (done.returncode, done.stdout.strip()) == (0, "True True"), done.stderr


@pytest.mark.parametrize("name", HEAVY)
def test_the_list_is_of_modules_that_are_there(name):
    assert find_spec(name) is not None
