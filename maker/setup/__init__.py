"""Set-up and checking on a bare machine: everything here imports only the standard library."""
