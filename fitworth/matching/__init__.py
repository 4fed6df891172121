"""Matching: which parts on file would run in place of the removed one, and how sure that is."""
