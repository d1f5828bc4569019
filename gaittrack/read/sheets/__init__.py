"""Joint-angle sheets in every layout."""
