"""Fairs: what to take, what sold, what the day paid."""
