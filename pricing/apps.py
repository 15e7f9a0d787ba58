"""Django's registration of the app."""

from django.apps import AppConfig

from maker.slow_work.hourly import EACH_HOUR


class PricingConfig(AppConfig):
    """See the package's docstring."""

    name = "pricing"

    def ready(self) -> None:
        """Let workers see to what was asked to be deleted."""
        EACH_HOUR.append("pricing.workshop_file.tasks.ask_for_deletions")
