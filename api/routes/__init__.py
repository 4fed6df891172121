"""The machine interface, /v1."""
