"""Offcuts that are kept: their sizes, how many, where they came from and went."""
