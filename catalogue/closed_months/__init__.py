"""Which months are closed: what is entered for them later counts as a correction when entered."""
