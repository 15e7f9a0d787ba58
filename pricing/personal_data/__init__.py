"""What customers' data are kept for: names deleted in time, one customer taken out or erased."""
