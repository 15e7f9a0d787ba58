"""Plain sums about materials, parts lists, packs and cutting plans."""
