"""Django's registration of the app."""

from django.apps import AppConfig


class MakerConfig(AppConfig):
    """The workshop and everything shared."""

    name = "maker"

    def ready(self) -> None:
        """Register the system checks."""
        from maker import checks  # noqa: F401 - importing registers them
