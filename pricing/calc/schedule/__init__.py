"""Lays work on dates: when a job can be ready, and until when it can be accepted."""
