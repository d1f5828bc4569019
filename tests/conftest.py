"""What holds for every test."""

import signal


def pytest_configure():
    """Undo what a shell does to programs it runs in the background: Ctrl-C is heard again."""
    signal.signal(signal.SIGINT, signal.default_int_handler)
