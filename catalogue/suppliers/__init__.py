"""Where materials are bought."""
