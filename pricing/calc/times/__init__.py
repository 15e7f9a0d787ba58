"""What the timer says about the minutes of a step, and planned against actual."""
