"""Rows of a comparison, judged as families."""
