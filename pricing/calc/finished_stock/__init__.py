"""The ledger of finished items: which batch leaves first, and what it is worth."""
