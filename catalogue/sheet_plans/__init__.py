"""Cutting plans of a recipe."""
