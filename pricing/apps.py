"""Django's registration of the app."""

from django.apps import AppConfig


class PricingConfig(AppConfig):
    """See the package's docstring."""

    name = "pricing"
