"""How long tests wait for another process: so long that only one that hangs is given up."""

# below the five minutes after which `verify` shows where a test stands
PATIENCE_S = 240
