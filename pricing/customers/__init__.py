"""Who asks for quotes and orders."""
