"""Django's registration of the app."""

from django.apps import AppConfig


class CatalogueConfig(AppConfig):
    """See the package's docstring."""

    name = "catalogue"

    def ready(self) -> None:
        """Say what replays ledgers, what is under way, and what comes again by the hour."""
        from catalogue.cutting_plans.under_way import plans_under_way
        from catalogue.stock.services import replay_workshop
        from maker.slow_work.hourly import EACH_HOUR
        from maker.slow_work.showing import ALSO_UNDER_WAY
        from maker.workshop.services import WHEN_CHANGED

        WHEN_CHANGED.setdefault("valuation", []).append(replay_workshop)
        ALSO_UNDER_WAY.append(plans_under_way)
        EACH_HOUR.append("catalogue.expenses.tasks.ask_to_repeat_expenses")
        EACH_HOUR.append("catalogue.receipt_files.services.forget_old")
