"""The page a customer opens by a link: reads the quote, asks, accepts or declines."""
