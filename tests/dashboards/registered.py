"""The callbacks of an app as Dash keeps them, for tests that try every one."""

import inspect


def callbacks_of(app):
    """Return what Dash keeps of every callback, by its output in words."""
    return app.callback_map


def server_callbacks(app):
    """Yield name and own function of every callback that runs at the server."""
    for output, entry in callbacks_of(app).items():
        function = entry.get("callback")
        if function is not None:
            yield (
                f"{function.__module__}.{function.__name__} {output[:60]}",
                inspect.unwrap(function),
            )
