"""Where she sells, with fees, margins and price steps."""
