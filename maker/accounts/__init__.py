"""Users, membership, roles and sign-in."""
