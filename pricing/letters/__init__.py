"""Letters to customers: texts she can change, with placeholders for what differs each time."""
