"""Forms of the library: their flat patterns drawn, printed and tried on sheets."""
