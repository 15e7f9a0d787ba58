"""Cutting plans of one or several jobs: made, drawn, printed and kept."""
