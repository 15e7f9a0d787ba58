"""Files into rows: a file is sent, shown with what is wrong beside each cell, and taken in once."""
