"""What goes back to a supplier or turned out damaged: at the cost of its own receipt line."""
