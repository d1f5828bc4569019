"""Libraries that take tenths of a second to load, loaded when something of them is first used.

A comparison from a cold start fills no table of pandas, bridges no gap and draws no band over a
curve; loading what would costs more than measuring the walks. Only here: everybody else imports
them from this module at the top, as they would import the library.
"""

from __future__ import annotations

from importlib import import_module
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pandas
    from scipy import linalg as linalg
    from scipy import optimize as optimize
    from scipy import signal as signal
else:

    class _Late(ModuleType):
        """Stands for a module until a name of it is asked for."""

        def __getattr__(self, name: str) -> Any:
            """Load the module and return what it has of this name."""
            found = getattr(import_module(self.__name__), name)
            setattr(self, name, found)
            return found

    pandas = _Late("pandas")
    linalg = _Late("scipy.linalg")
    optimize = _Late("scipy.optimize")
    signal = _Late("scipy.signal")
