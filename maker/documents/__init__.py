"""The only doors to WeasyPrint and pandas."""
