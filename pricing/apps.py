"""Django's registration of the app."""

from django.apps import AppConfig

from maker.slow_work.hourly import EACH_HOUR


class PricingConfig(AppConfig):
    """See the package's docstring."""

    name = "pricing"

    def ready(self) -> None:
        """Say what workers do by the hour, what is asked for designs, and what has expenses."""
        from catalogue.designs.asked import ASKED_FOR
        from catalogue.expenses.belonging import OWNERS
        from pricing.fairs.belonging import FairOwners
        from pricing.orders.belonging import OrderOwners
        from pricing.prices.asked import asked_for

        ASKED_FOR.append(asked_for)
        OWNERS.extend([OrderOwners(), FairOwners()])
        EACH_HOUR.append("pricing.workshop_file.tasks.ask_for_deletions")
        EACH_HOUR.append("pricing.spending.tasks.ask_to_keep_sums")
        EACH_HOUR.append("pricing.personal_data.tasks.keep_promises")
