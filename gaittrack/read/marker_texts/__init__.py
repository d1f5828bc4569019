"""Marker tables as text."""
