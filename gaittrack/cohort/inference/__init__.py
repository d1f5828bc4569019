"""What may be said of a cohort: means, models and whether their intervals cover."""
