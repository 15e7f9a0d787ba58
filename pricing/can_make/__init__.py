"""What stock is enough for: as it is, with colours swapped, and out of a mixed pad."""
