"""What all tests share: random inputs that are the same on every machine.

Tests that take long, or whole modules of them, are named in `slow.txt`; `bash tests/run
quick` leaves them out, and `bash tests/run -n 0 --write-slow tests/unit/symmetry`
measures those of a folder anew.
"""

from __future__ import annotations

import resource
from collections import defaultdict
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, settings

if TYPE_CHECKING:
    from collections.abc import Iterator

# no verdict hangs on how busy a machine is
settings.register_profile(
    "steady",
    deadline=None,
    derandomize=True,
    suppress_health_check=[HealthCheck.too_slow],
)
settings.load_profile("steady")

_LIST = Path(__file__).with_name("slow.txt")
_SLOW = 0.2  # seconds of one core, in the mean of a test over what it is tried on
_spent: dict[str, list[float]] = defaultdict(list)


def _name(item: pytest.Item) -> str:
    """Return a test's name without what it is tried on."""
    return item.nodeid.partition("[")[0]


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--write-slow", action="store_true", help="Write tests/slow.txt.")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    slow = set(_LIST.read_text().split())
    for item in items:
        if not slow.isdisjoint((_name(item), item.nodeid.partition("::")[0])):
            item.add_marker(pytest.mark.slow)


def _seconds() -> float:
    """Return what this process and those that it started have taken of a core."""
    return sum(
        sum(resource.getrusage(who)[:2])
        for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)
    )


@pytest.hookimpl(wrapper=True)
def pytest_runtest_protocol(item: pytest.Item) -> Iterator[None]:
    begun = _seconds()
    try:
        return (yield)
    finally:
        _spent[_name(item)].append(_seconds() - begun)


def pytest_sessionfinish(session: pytest.Session) -> None:
    if session.config.getoption("--write-slow"):
        modules = defaultdict(set)
        for name in _spent:
            modules[name.partition("::")[0]].add(name)
        found = set(_LIST.read_text().split())
        found = {name for name in found if name.partition("::")[0] not in modules}
        for module, tests in modules.items():
            slow = {n for n in tests if sum(_spent[n]) > _SLOW * len(_spent[n])}
            found |= {module} if slow == tests else slow
        _LIST.write_text("".join(f"{name}\n" for name in sorted(found)))
