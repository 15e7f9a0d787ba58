"""Work too slow for a page: queued as tasks, done by workers, given back when a worker dies."""
