"""Receipts and what each unit really cost."""
