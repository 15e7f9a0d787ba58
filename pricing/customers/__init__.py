"""Whom she quotes for."""
