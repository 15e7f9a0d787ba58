"""What was done: sign-ins, roles, files out and in, as the owner reads it."""
