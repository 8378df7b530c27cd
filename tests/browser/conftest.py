"""A real browser, and a server of the page in a process of its own."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import Browser, Page

_WAIT = 60_000


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    playwright = pytest.importorskip("playwright.sync_api")
    path = os.environ.get("FILLWORK_CHROMIUM")
    if not path:
        pytest.skip("FILLWORK_CHROMIUM names no browser")
    with playwright.sync_playwright() as started:
        chromium = started.chromium.launch(
            executable_path=path,
            args=[
                "--no-sandbox",
                "--disable-dev-shm-usage",
                "--disable-background-networking",
            ],
        )
        yield chromium
        chromium.close()


@dataclass
class Running:
    """A server of the page, and its address."""

    folder: Path
    arguments: tuple[str, ...] = ()
    address: str = ""
    process: Any = field(default=None)

    def start(self) -> Running:
        self.process = subprocess.Popen(
            [sys.executable, "-m", "fillwork", "page", "--no-open", *self.arguments],
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            env={**os.environ, "FILLWORK_STATE": str(self.folder)},
        )
        self.address = self.process.stdout.readline().strip()
        assert self.address.startswith("http://127.0.0.1:")
        return self

    def kill(self) -> None:
        os.kill(self.process.pid, signal.SIGKILL)
        self.process.communicate()

    def end(self) -> None:
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGINT)
            self.process.communicate(timeout=20)
            assert self.process.returncode == 0


@pytest.fixture
def server(tmp_path: Path) -> Iterator[Running]:
    running = Running(tmp_path / "state").start()
    yield running
    running.end()


@pytest.fixture(scope="module")
def shared(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A server for all tests of a module that leave it running."""
    running = Running(tmp_path_factory.mktemp("shared") / "state").start()
    yield running
    running.end()


@dataclass
class Sight:
    """One open page that notes everything its console says."""

    page: Page
    said: list[str] = field(default_factory=list)

    def open(self, address: str) -> Sight:
        self.page.on("console", lambda m: self.said.append(f"{m.type}: {m.text}"))
        self.page.on("pageerror", lambda e: self.said.append(f"error: {e}"))
        self.page.set_default_timeout(_WAIT)
        self.page.goto(address)
        return self

    def take_demo(self, name: str) -> None:
        self.page.get_by_role("button", name=name, exact=True).click()
        self.page.wait_for_selector("ul.kinds li")
        self.settle()

    def turn_to(self, heading: str) -> None:
        """Open one of the parts, which folds the others."""
        self.page.get_by_role("link", name=heading, exact=True).click()

    def settle(self) -> None:
        """Wait until the page says that no work goes on."""
        self.page.wait_for_timeout(100)
        self.page.wait_for_selector("body:not([aria-busy])")
        self.page.wait_for_selector(".work span", state="detached")
        self.page.wait_for_timeout(100)

    def alert(self) -> str:
        return self.page.locator("#message [role=alert]").inner_text()


@pytest.fixture
def sight(browser: Browser) -> Iterator[Sight]:
    context = browser.new_context(
        viewport={"width": 1400, "height": 900}, accept_downloads=True
    )
    found = Sight(context.new_page())
    yield found
    assert found.said == []
    context.close()
