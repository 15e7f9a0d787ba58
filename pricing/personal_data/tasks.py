"""What is seen to by the hour: names whose time is over, and customers a restore brought back."""

from django.utils import timezone

from pricing.personal_data.names import delete_due_names
from pricing.personal_data.services import erase_again


def keep_promises() -> None:
    """Delete what was promised to be deleted; done twice it finds nothing left."""
    today = timezone.localdate()
    delete_due_names(today)
    erase_again(today)
