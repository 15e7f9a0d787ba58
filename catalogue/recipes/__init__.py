"""What one version of a design is made of: pieces, fixings, steps, options, colourways."""
