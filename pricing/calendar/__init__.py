"""What is on which date: deliveries, quotes, invoices, days off; as pages and as a feed."""
