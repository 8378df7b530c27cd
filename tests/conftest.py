"""What all tests share: random inputs that are the same on every machine.

Modules whose tests take long are named in `slow.txt`; `bash tests/run quick` leaves
them out, and `bash tests/run -n 0 --write-slow` measures them anew.
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
_SLOW = 0.1  # seconds of one core for a test, in the mean of its module
_spent: dict[str, list[float]] = defaultdict(list)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--write-slow", action="store_true", help="Write tests/slow.txt.")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    slow = set(_LIST.read_text().split())
    for item in items:
        if item.nodeid.partition("::")[0] in slow:
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
        _spent[item.nodeid.partition("::")[0]].append(_seconds() - begun)


def pytest_sessionfinish(session: pytest.Session) -> None:
    if session.config.getoption("--write-slow"):
        mean = {name: sum(all_) / len(all_) for name, all_ in _spent.items()}
        slow = sorted(name for name, took in mean.items() if took > _SLOW)
        _LIST.write_text("".join(f"{name}\n" for name in slow))
