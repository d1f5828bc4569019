"""gaittrack: what a brace changes in a person's walking, measured."""
