"""Django's registration of the app."""

import gc
import logging.config

from django.apps import AppConfig
from django.conf import settings

from maker.slow_work import subscripts
from maker.slow_work.hourly import EACH_HOUR

# this app is named before django-tasks, which imports what is stood in for
subscripts.stand_in()


class MakerConfig(AppConfig):
    """The workshop and everything shared."""

    name = "maker"

    def ready(self) -> None:
        """Set up the log, register the system checks, and let what is loaded rest."""
        logging.config.dictConfig(settings.LOGGING)
        from maker import checks  # noqa: F401 - importing registers them

        EACH_HOUR.append("maker.backup.tasks.ask_for_copy_of_the_day")
        EACH_HOUR.append("maker.files.services.sweep")
        EACH_HOUR.append("maker.phone.tasks.renew_certificate")
        # models and modules stay to the end: no search for rubbish need look at them again
        gc.freeze()
        gc.enable()
