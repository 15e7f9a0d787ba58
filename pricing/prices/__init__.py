"""The price list and what each price was set against."""
