"""An update from years ago runs every migration: none calls code that has gone on since.

Django writes `import some.models` for a function that a column names (a default, a validator):
that is a name the table's description needs, and no code that a migration runs.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
APPS = ("maker", "catalogue", "pricing")
MIGRATIONS = sorted(path for app in APPS for path in (ROOT / app / "migrations").glob("*.py"))


def _imported(tree: ast.AST) -> Iterator[tuple[str, bool]]:
    """Yield what is imported, and whether it is a whole module by its full name."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((one.name, one.asname is None) for one in node.names)
        elif isinstance(node, ast.ImportFrom):
            yield ("." * node.level + (node.module or ""), False)


def of_today(text: str) -> list[str]:
    """Return the code of the program a migration could call."""
    tree = ast.parse(text)
    found = []
    for name, is_module in _imported(tree):
        app, *rest = name.split(".")
        if app not in APPS:
            continue
        if rest[:1] == ["migrations"] or (is_module and rest[-1:] == ["models"]):
            continue
        found.append(name)
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    named = {node.id for one in functions for node in ast.walk(one) if isinstance(node, ast.Name)}
    return found + sorted(named & set(APPS))


@pytest.mark.parametrize("path", MIGRATIONS, ids=lambda path: "/".join(path.parts[-3::2]))
def test_no_migration_calls_code_of_today(path: Path) -> None:
    assert of_today(path.read_text()) == []


@pytest.mark.parametrize(
    "planted",
    [
        "from catalogue.stock.inputs import figures_from",
        "def fill(apps, editor):\n    from maker.calc import money",
        "import catalogue.stock.services",
        "import maker.backup.models as rows",
        "import maker.backup.models\ndef fill(apps, editor):\n    maker.backup.models.new_key()",
    ],
)
def test_planted_code_of_today_is_found(planted: str) -> None:
    assert of_today(planted)
