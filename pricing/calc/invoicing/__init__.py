"""Invoices of an order: one for each delivery, credit notes, payments."""
