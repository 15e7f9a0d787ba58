"""Quotes: written, sent, revised, accepted or declined; frozen once they are sent."""
