"""gaittrack: what a brace changes in a person's walking, measured."""

__version__ = "0.2.0"
