"""Folds flat patterns in space, for pictures of the finished thing; in floats, unlike the patterns.

`space` has points and turns, `folding` turns rigid panels about their hinges, `bending` bends the
curved forms, `assembly` says how each form stands, `depth` sorts what is seen from back to front.
"""
