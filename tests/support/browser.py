"""A headless Chromium on this machine alone: what it logs, what it asks for, what it prints, what it looks like."""

from __future__ import annotations

import base64
import json
import os
import shutil
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path

from selenium import webdriver
from selenium.common.exceptions import WebDriverException
from selenium.webdriver.chrome.options import Options
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.chrome.webdriver import WebDriver

PRINTINGS = 3
FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--force-device-scale-factor=1",
)
PHONE, DESKTOP = (375, 800), (1280, 900)
A4, LETTER = (8.27, 11.69), (8.5, 11.0)
"""Inches."""
AXE_SECONDS = 300
"""A busy machine is waited for; no result hangs on it."""


def why_no_browser() -> str:
    """Why there is no browser to test with; empty where there is one. On a CI machine one is asked for."""
    driver, chromium = shutil.which("chromedriver"), shutil.which("chromium")
    if driver and chromium:
        return ""
    missing = "Chromium and its driver are not installed (Debian: apt-get install chromium chromium-driver)"
    if os.environ.get("CI"):
        raise RuntimeError(f"{missing}, and CI is set")
    return missing


@contextmanager
def chromium() -> Iterator[WebDriver]:
    """A browser with a profile of its own, empty and thrown away."""
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        options = Options()
        options.binary_location = shutil.which("chromium") or ""
        for flag in (*FLAGS, f"--user-data-dir={profile}"):
            options.add_argument(flag)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        driver = webdriver.Chrome(options=options, service=Service(shutil.which("chromedriver") or ""))
        try:
            yield driver
        finally:
            driver.quit()


def opened(driver: WebDriver, page: Path, size: tuple[int, int], dark: bool = False) -> None:
    """Open a file in a window of so many pixels."""
    width, height = size
    driver.execute_cdp_cmd(
        "Emulation.setDeviceMetricsOverride",
        {"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 500},
    )
    looks = [{"name": "prefers-color-scheme", "value": "dark" if dark else "light"}]
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"media": "", "features": looks})
    driver.get_log("performance")
    driver.get_log("browser")
    driver.get(page.resolve().as_uri())


def asked_for(driver: WebDriver) -> list[str]:
    """Everything the page asked for since it was opened."""
    messages = [json.loads(entry["message"])["message"] for entry in driver.get_log("performance")]
    sent = [m["params"] for m in messages if m["method"] == "Network.requestWillBeSent"]
    return [one["request"]["url"] for one in sent if one["documentURL"] == driver.current_url]


def logged(driver: WebDriver) -> list[str]:
    """What stands in the console."""
    return [entry["message"] for entry in driver.get_log("browser")]


def axe_findings(driver: WebDriver) -> list[str]:
    """What axe-core finds against the page: rule, how bad, and where."""
    spec = find_spec("axe_playwright_python")
    assert spec is not None and spec.submodule_search_locations
    source = Path(next(iter(spec.submodule_search_locations))) / "axe.min.js"
    driver.execute_cdp_cmd("Runtime.evaluate", {"expression": source.read_text(encoding="utf-8")})
    driver.set_script_timeout(AXE_SECONDS)
    ask = "axe.run(document, {preload: false, resultTypes: ['violations']}).then(arguments[arguments.length - 1])"
    found = driver.execute_async_script(ask)
    return [
        f"{rule['id']} ({rule['impact']}): {node['target']} {node.get('failureSummary', '')}"
        for rule in found["violations"]
        for node in rule["nodes"][:3]
    ]


def printed(driver: WebDriver, paper: tuple[float, float], **more: object) -> bytes:
    """The page as it prints, a PDF. Chromium gives up printing on a machine that is very busy: it is asked again."""
    width, height = paper
    options = {"paperWidth": width, "paperHeight": height, "printBackground": True, "preferCSSPageSize": False, **more}
    for left in reversed(range(PRINTINGS)):
        try:
            return base64.b64decode(driver.execute_cdp_cmd("Page.printToPDF", options)["data"])
        except WebDriverException as error:
            if not left or "Printing failed" not in str(error):
                raise
    raise AssertionError("asked at least once")


def picture(driver: WebDriver, path: Path, most: int = 6000) -> None:
    """A picture of the page from its top, at most so many pixels high."""
    size = driver.execute_cdp_cmd("Page.getLayoutMetrics", {})["cssContentSize"]
    clip = {"x": 0, "y": 0, "width": size["width"], "height": min(size["height"], most), "scale": 1}
    shot = driver.execute_cdp_cmd("Page.captureScreenshot", {"clip": clip, "captureBeyondViewport": True})
    path.write_bytes(base64.b64decode(shot["data"]))
