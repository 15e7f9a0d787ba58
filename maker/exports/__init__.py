"""Lists as files: in the request where they are short, by a worker where they are long."""
