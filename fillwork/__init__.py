"""Plan the painted finish of geometric line work.

The public names stand in ``__init__.pyi``, for type checkers and for this module; each
loads on first use (PEP 562), so that ``import fillwork`` costs nothing until something
is asked of it.
"""

import importlib
import pkgutil
import re
from typing import Any

_LISTED = pkgutil.get_data(__name__, "__init__.pyi") or b""
_HOMES: dict[str, str] = {
    name: home
    for home, name in re.findall(
        r"^from (\S+) import (\w+)", _LISTED.decode(), flags=re.MULTILINE
    )
}
__all__ = sorted(_HOMES)


def __getattr__(name: str) -> Any:
    """Load a public name on first use."""
    if name not in _HOMES:
        message = f"module 'fillwork' has no attribute {name!r}"
        raise AttributeError(message)
    value = getattr(importlib.import_module(_HOMES[name]), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    """List the public names."""
    return __all__
