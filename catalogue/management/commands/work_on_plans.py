"""Works on cutting plans that wait; the app starts it by itself when there is something to do."""

import os
from typing import Any

from django.core.management.base import BaseCommand

from catalogue.cutting_plans.worker import NICENESS, only_one_here, work_until_done


class Command(BaseCommand):
    """Work until nothing waits. One at a time on a machine: a second one ends at once."""

    help = "Work on cutting plans that wait, until none is left."

    def handle(self, *args: Any, **options: Any) -> None:
        """Take the machine's lock and work."""
        # pages come first
        os.nice(NICENESS)
        with only_one_here() as is_mine:
            if is_mine:
                done = work_until_done()
                self.stdout.write(f"{done} plan{'' if done == 1 else 's'} worked on.")
            else:
                self.stdout.write("Another one is at work here.")
