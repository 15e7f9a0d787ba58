"""Designs, their versions and recipes."""
