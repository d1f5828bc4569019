"""Libraries that take tenths of a second to load, loaded when something of them is first used.

A comparison from a cold start fills no table of pandas and takes of scipy's packages one compiled
function each; loading them costs more than measuring the walks. Only here: everybody else imports
them from this module at the top, as they would import the library.
"""

from __future__ import annotations

from importlib import import_module
from importlib.machinery import PathFinder
from importlib.util import find_spec, module_from_spec
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


def without_package(package: str, module: str) -> Any:
    """Return a compiled module of a package without loading the package around it.

    Such a module is private: who takes it tries it first, and else takes the package. None where it
    does not lie.
    """
    around = find_spec(package)
    places = None if around is None else around.submodule_search_locations
    spec = PathFinder.find_spec(f"{package}.{module}", places)
    if spec is None or spec.loader is None:
        return None
    found = module_from_spec(spec)
    spec.loader.exec_module(found)
    return found
