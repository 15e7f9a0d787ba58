"""The only doors to WeasyPrint and openpyxl, and to files of rows."""
