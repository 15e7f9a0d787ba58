"""The directions in which modules may import one another, kept by import-linter."""

import shutil
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
from importlinter.cli import EXIT_STATUS_SUCCESS, lint_imports

ROOT = Path(__file__).resolve().parents[2]
APPS = ("maker", "catalogue", "pricing")
# no features: sums, tables of the database, commands, and what runs before anything is installed
NO_FEATURES = {"calc", "migrations", "management", "setup", "__pycache__"}


def test_import_contracts(capsys: pytest.CaptureFixture[str]) -> None:
    assert lint_imports(no_cache=True) == EXIT_STATUS_SUCCESS, capsys.readouterr().out


def test_every_feature_has_a_contract_that_knows_each_of_its_files() -> None:
    contracts = tomllib.loads((ROOT / "pyproject.toml").read_text())["tool"]["importlinter"]
    held = {
        name
        for contract in contracts["contracts"]
        if contract["type"] == "layers" and contract.get("exhaustive")
        for name in contract["containers"]
    }
    features = {
        f"{app}.{folder.name}"
        for app in APPS
        for folder in (ROOT / app).iterdir()
        if folder.is_dir() and folder.name not in NO_FEATURES
    }
    assert len(features) > 30
    assert features - held == set()


@pytest.fixture
def planted(tmp_path: Path) -> Path:
    """A copy of the code to plant something in."""
    for app in APPS:
        shutil.copytree(ROOT / app, tmp_path / app, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    return tmp_path


@pytest.mark.parametrize(
    ("file", "line"),
    [
        ("pricing/quotes/sending.py", "from pricing.quotes import line_views"),
        ("catalogue/recipes/sent.py", "from catalogue.recipes import editor"),
        ("catalogue/cutting_plans/stored.py", "from catalogue.cutting_plans import keeping"),
        ("pricing/channels/services.py", "from pricing.channels import forms"),
        ("catalogue/calc/recipes/recipe.py", "from catalogue.calc.sheets import use"),
        ("pricing/calc/costing/cost.py", "from pricing.calc.price import price"),
        ("catalogue/stock/services.py", "from pricing.costs import services"),
        ("pricing/quotes/extras.py", ""),
    ],
)
def test_a_planted_breach_is_found(planted: Path, file: str, line: str) -> None:
    path = planted / file
    path.write_text((path.read_text() if path.exists() else "") + f"\n{line}\n")
    call = (
        "from importlinter.cli import lint_imports; raise SystemExit(lint_imports(no_cache=True))"
    )
    done = subprocess.run(
        [sys.executable, "-c", call], cwd=planted, capture_output=True, text=True, check=False
    )
    assert done.returncode == 1, done.stdout + done.stderr
    assert file.removesuffix(".py").replace("/", ".") in done.stdout
