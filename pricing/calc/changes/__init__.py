"""Why a price changed, and whether it is still true."""
