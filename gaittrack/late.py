"""Libraries that take tenths of a second to load, loaded when something of them is first used.

A comparison from a cold start fills no table of pandas and takes of scipy's packages one or a few
compiled functions each; loading them costs more than measuring the walks. Only here: everybody else
imports them from this module at the top, as they would import the library.
"""

from __future__ import annotations

import sys
import threading
from collections.abc import Sequence
from contextlib import suppress
from importlib import import_module
from importlib.abc import Loader, MetaPathFinder
from importlib.machinery import ModuleSpec, PathFinder
from types import ModuleType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pandas
    from scipy import optimize as optimize
    from scipy import signal as signal
    from scipy import special as special
    from scipy.linalg import lapack as lapack
else:

    class _Late(ModuleType):
        """Stands for a module until a name of it is asked for."""

        def __getattr__(self, name: str) -> Any:
            """Load the module and return what it has of this name."""
            found = getattr(import_module(self.__name__), name)
            setattr(self, name, found)
            return found

    class _LateCompiled(_Late):
        """Stands for a module whose functions a compiled module of a package has too."""

        def __init__(self, name: str, package: str, module: str) -> None:
            super().__init__(name)
            self._where = package, module

        def __getattr__(self, name: str) -> Any:
            """Take the function of the compiled module, else of the module stood for."""
            found = getattr(without_package(*self._where), name, None)
            found = super().__getattr__(name) if found is None else found
            setattr(self, name, found)
            return found

    pandas = _Late("pandas")
    lapack = _LateCompiled("scipy.linalg.lapack", "scipy.linalg", "_flapack")
    optimize = _Late("scipy.optimize")
    signal = _Late("scipy.signal")
    special = _LateCompiled("scipy.special", "scipy.special", "_ufuncs")


class _GivenUp(MetaPathFinder, Loader):
    """Begins to load a package with a compiled module of it, and gives up before the rest.

    So other threads that want the package wait meanwhile, and load it whole.
    """

    def __init__(self, package: str, module: str) -> None:
        self.package, self.module = package, module
        self.thread = threading.get_ident()
        self.found: ModuleType | None = None

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> ModuleSpec | None:
        """Answer for the package, to the thread that asked for its module."""
        if name != self.package or threading.get_ident() != self.thread:
            return None
        around = PathFinder.find_spec(name, path)
        spec = ModuleSpec(name, self, is_package=True)
        spec.submodule_search_locations = around.submodule_search_locations if around else None
        return spec

    def exec_module(self, module: ModuleType) -> None:
        """Load the module of the package, and no more of it."""
        self.found = import_module(f"{self.package}.{self.module}")
        raise ImportError(f"of {self.package} only {self.module} is wanted")


def without_package(package: str, module: str) -> Any:
    """Return a compiled module of a package without loading the package around it.

    Such a module is private: who takes it tries it first, and else takes the package. None where it
    does not lie.
    """
    finder = _GivenUp(package, module)
    sys.meta_path.insert(0, finder)
    try:
        with suppress(ImportError):
            import_module(package)
            return import_module(f"{package}.{module}")
    finally:
        sys.meta_path.remove(finder)
    return finder.found
