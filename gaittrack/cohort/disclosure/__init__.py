"""What an export may show of whom."""
