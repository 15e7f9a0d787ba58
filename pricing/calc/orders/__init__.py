"""An order of several lines made together: what it costs, what each line bears, its price."""
