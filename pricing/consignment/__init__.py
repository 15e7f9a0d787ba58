"""Items left with a shop: hers until sold, settled at the share agreed."""
