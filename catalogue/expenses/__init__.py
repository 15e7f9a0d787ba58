"""What she pays for that is not stock: rent, van hire, insurance, software, tools, stall fees."""
