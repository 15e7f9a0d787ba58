"""Every quantity of a design costed, and the price list that follows from it."""
