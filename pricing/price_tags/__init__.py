"""Price tags on label sheets."""
