"""What was compared once and is kept in the study."""
