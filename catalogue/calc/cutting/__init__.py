"""How to cut a job from the fewest or cheapest sheets, and the proof of it."""
