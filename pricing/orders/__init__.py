"""What customers ordered, in deliveries."""
