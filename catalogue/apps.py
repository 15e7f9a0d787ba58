"""Django's registration of the app."""

from django.apps import AppConfig


class CatalogueConfig(AppConfig):
    """See the package's docstring."""

    name = "catalogue"

    def ready(self) -> None:
        """Replay the ledgers when stock is valued another way; list plans with other slow work."""
        from catalogue.cutting_plans.under_way import plans_under_way
        from catalogue.stock.services import replay_workshop
        from maker.slow_work.showing import ALSO_UNDER_WAY
        from maker.workshop.services import WHEN_CHANGED

        WHEN_CHANGED.setdefault("valuation", []).append(replay_workshop)
        ALSO_UNDER_WAY.append(plans_under_way)
