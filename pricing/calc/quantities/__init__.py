"""Prices of every quantity: more never costs more each, nor less in all."""
