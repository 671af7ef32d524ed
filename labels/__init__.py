"""Artwork for tags and cards: knows codes, papers and millimetres, nothing of the database."""
