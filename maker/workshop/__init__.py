"""The business profile: currency, units, wage, overhead, tax status, terms."""
