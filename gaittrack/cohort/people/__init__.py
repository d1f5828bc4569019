"""What a cohort is made of: people of a study as codes, what is taken of them."""
