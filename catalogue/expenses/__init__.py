"""What she pays for that is no stock: rent, van hire, insurance, software, tools, stall fees."""
