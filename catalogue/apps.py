"""Django's registration of the app."""

from django.apps import AppConfig


class CatalogueConfig(AppConfig):
    """See the package's docstring."""

    name = "catalogue"
