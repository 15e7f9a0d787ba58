"""Every model is registered by its app, and every change of one has its migration."""

import importlib
from io import StringIO
from pathlib import Path

import pytest
from django.core.management import call_command
from django.db.models import Model

ROOT = Path(__file__).resolve().parents[2]
FEATURES = sorted(
    path.parent.relative_to(ROOT)
    for app in ("maker", "catalogue", "pricing")
    for path in (ROOT / app).glob("*/models.py")
)


@pytest.mark.parametrize("feature", FEATURES, ids=str)
def test_every_model_is_registered_by_its_app(feature: Path) -> None:
    module = importlib.import_module(".".join([*feature.parts, "models"]))
    registry = importlib.import_module(f"{feature.parts[0]}.models")
    models = [
        one
        for one in vars(module).values()
        if isinstance(one, type)
        and issubclass(one, Model)
        and one.__module__ == module.__name__
        and not one._meta.abstract
    ]
    assert models, f"{module.__name__} holds no model"
    missing = [one.__name__ for one in models if getattr(registry, one.__name__, None) is not one]
    assert not missing, f"not imported by {registry.__name__}"
    assert not {one.__name__ for one in models} - set(registry.__all__)


@pytest.mark.parametrize("feature", FEATURES, ids=str)
def test_no_model_brings_an_order_or_logic_of_its_own(feature: Path) -> None:
    module = importlib.import_module(".".join([*feature.parts, "models"]))
    for one in vars(module).values():
        if isinstance(one, type) and issubclass(one, Model) and one.__module__ == module.__name__:
            assert not one._meta.ordering, f"{one.__name__} orders every query"
            assert "save" not in vars(one), f"{one.__name__} hides logic in save()"


@pytest.mark.django_db
def test_no_migration_is_missing() -> None:
    said = StringIO()
    try:
        call_command("makemigrations", "--check", "--dry-run", stdout=said, stderr=said)
    except SystemExit:
        pytest.fail(said.getvalue())
