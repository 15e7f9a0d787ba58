"""Django's registration of the app."""

from django.apps import AppConfig


class CatalogueConfig(AppConfig):
    """See the package's docstring."""

    name = "catalogue"

    def ready(self) -> None:
        """Replay the ledgers whenever a workshop values its stock another way."""
        from catalogue.stock.services import replay_workshop
        from maker.workshop.services import WHEN_CHANGED

        WHEN_CHANGED.setdefault("valuation", []).append(replay_workshop)
