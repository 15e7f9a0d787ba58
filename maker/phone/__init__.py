"""Her phone: the address on the home network, and the certificate that makes HTTPS work there."""
