"""Photos and PDFs of receipts and expenses: added at entry or later, removed with a way back."""
