"""``python -m gaittrack`` is ``gaittrack``."""

from gaittrack.commands import main

if __name__ == "__main__":
    main(prog_name="gaittrack")
