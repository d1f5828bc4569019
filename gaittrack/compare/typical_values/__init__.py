"""Typical values: published, or of the laboratory's own able-bodied people."""
