"""Copies of everything this installation holds: made, checked, kept, restored."""
