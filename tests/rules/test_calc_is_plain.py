"""Calculation stays plain Python: it loads without Django and asks neither clock nor files."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
MODULES = sorted(
    path
    for app in ("maker", "catalogue", "pricing")
    for path in (ROOT / app / "calc").rglob("*.py")
)
HEAVY = ("django", "django_tables2", "pandas", "weasyprint", "psycopg")
# What a calculation may not reach for: files, the network, processes, the environment.
OUTSIDE = {"os", "io", "pathlib", "shutil", "tempfile", "socket", "subprocess", "urllib", "sqlite3"}
ASKS_THE_DAY = {"today", "now", "utcnow"}


def dotted(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


def test_calc_loads_without_django_or_anything_heavy() -> None:
    # In a process of its own: an app's __init__.py that imports Django is not seen by contracts.
    script = (
        "import importlib, sys\n"
        f"for name in {[dotted(path) for path in MODULES]!r}: importlib.import_module(name)\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip() == "[]"


@pytest.mark.parametrize("path", MODULES, ids=dotted)
def test_calc_asks_neither_the_day_nor_files(path: Path) -> None:
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [a.name for a in node.names if a.name.partition(".")[0] in OUTSIDE]
        elif isinstance(node, ast.ImportFrom) and node.module:
            found += [node.module] if node.module.partition(".")[0] in OUTSIDE else []
        elif isinstance(node, ast.Call):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else ""
            name = node.func.id if isinstance(node.func, ast.Name) else name
            found += [f"{name}() in line {node.lineno}"] if name in {"open", *ASKS_THE_DAY} else []
    assert not found
