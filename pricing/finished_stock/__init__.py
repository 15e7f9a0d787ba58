"""What is made and not yet gone: how many of each item, where they are, what they cost."""
