"""Advice: what is taken for true, what each way out of a job costs, and which one to take."""
