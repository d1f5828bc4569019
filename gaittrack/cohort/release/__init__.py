"""What makes an export a package that others can take, check, cite and work with."""
