"""A tax year to the day: spent, used, in stock, and everything an accountant asks for."""
