"""One function for each thing that can be asked; no web framework here."""
