"""Whether two conditions are compared fairly."""
