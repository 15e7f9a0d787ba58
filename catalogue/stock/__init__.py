"""The stock ledger."""
