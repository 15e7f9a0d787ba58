"""Everything of one workshop in one JSON file, out and in again; the demo workshops."""
