"""Heavy pages, answered by processes of their own that give way to all others."""
