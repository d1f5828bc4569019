"""The tables of a cohort, from people down to the stride."""
