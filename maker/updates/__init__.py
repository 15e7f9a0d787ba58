"""A newer program on older data: copied first, changed whole or not at all; and what is new."""
