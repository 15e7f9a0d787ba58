"""One search over everything of a workshop."""
