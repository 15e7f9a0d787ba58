"""An order of items in several deliveries, and its figures."""
