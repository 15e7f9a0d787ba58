"""Months as they were first closed beside what is known now, and why they differ."""
