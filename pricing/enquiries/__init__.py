"""What customers ask for, kept before it is a quote."""
