"""The figures of a year of supplies under their stable names."""
