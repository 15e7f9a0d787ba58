"""Whether this installation is well, told before anybody loses something by it."""
