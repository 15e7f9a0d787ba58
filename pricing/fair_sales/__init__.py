"""What is sold at a fair: by phone without network, from paper, by counting back."""
