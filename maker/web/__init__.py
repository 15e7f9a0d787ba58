"""Access, list pages, middleware and error pages."""
