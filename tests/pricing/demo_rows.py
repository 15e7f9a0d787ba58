"""What there is of everything, to see what loading and removing the examples leaves."""

from django.apps import apps


def rows_everywhere():
    """How many rows each of our own models has."""
    return {
        model._meta.label: model._default_manager.count()
        for name in ("maker", "catalogue", "pricing")
        for model in apps.get_app_config(name).get_models()
    }
