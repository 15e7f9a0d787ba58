"""From a cost to a price, and what is really left of it: margin, fees, tax, deposit."""
