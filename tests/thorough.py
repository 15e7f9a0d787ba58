"""How much is tried: what every run bears, and more where one has hours: `verify --thorough`."""

import os

IS_THOROUGH = os.environ.get("THOROUGH") == "1"


def tries(usual: int, thorough: int) -> int:
    """Return how many examples to try (or for how long, or every which one)."""
    return thorough if IS_THOROUGH else usual
