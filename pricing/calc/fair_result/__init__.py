"""The figures of a season of fair days under their stable names."""
