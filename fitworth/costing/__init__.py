"""Landed cost, needs, reliability and expected cost: what each way out costs."""
