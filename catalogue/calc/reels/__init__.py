"""How to cut lengths from reels of ribbon, cord or tape: the fewest or cheapest reels."""
