"""Loads a script of the project, which has no suffix, as a module."""

from importlib.machinery import SourceFileLoader
from importlib.util import module_from_spec, spec_from_loader
from pathlib import Path
import sys
from types import ModuleType


def load_script(path: Path) -> ModuleType:
    """Return the script at `path` as a module; only its top level runs."""
    loader = SourceFileLoader(f"gatewright_{path.name}", str(path))
    spec = spec_from_loader(loader.name, loader)
    assert spec is not None
    module = module_from_spec(spec)
    before = list(sys.path)
    loader.exec_module(module)
    sys.path[:] = before
    return module
