"""Keeping prices true: what is off by now, why, and what was decided."""
