"""What apps above this one see to by the hour, while a worker lives."""

from django.utils.module_loading import import_string

# Functions by their dotted names, added by their app when it starts, so that no command loads what
# only workers need. Quick, safe for several workers at once; whatever takes longer they queue.
EACH_HOUR: list[str] = []


def see_to_all() -> None:
    """Call each."""
    for name in EACH_HOUR:
        import_string(name)()
