"""Part families: the data files that declare them, and what reads and checks those."""
