"""Interchange groups: parts on file that are one design under many numbers, estimated from what they list."""
