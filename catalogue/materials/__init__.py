"""Sheets, reels, glue and everything else that goes into a piece."""
