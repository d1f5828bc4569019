"""One question to a cohort, its answer and what stands beside it."""
