"""Fitworth's core: which parts fit, how sure that is, and what each way out costs. Values in, values out."""
