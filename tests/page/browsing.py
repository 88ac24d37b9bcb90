"""A server with demo machines and Debian's chromium before it: what the tests of the pages in a real browser share."""

from __future__ import annotations

import json
import os
import re
import shutil
import socket
import subprocess
import sys
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from http.cookiejar import CookieJar
from pathlib import Path
from typing import Any, Final

from selenium import webdriver
from selenium.webdriver.chrome.service import Service
from selenium.webdriver.support.ui import Select, WebDriverWait

import oilpath

CHROMIUM, DRIVER = shutil.which("chromium"), shutil.which("chromedriver")
MACHINE, SHEET = "/machine/machines/trainer-22t.yaml", "/sheet/demo/pump-1-slow.yaml"
PHONE, LAPTOP = (360, 740), (1280, 800)
_SECONDS: Final = 40.0
_OPTIONS: Final = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update",
)  # fmt: skip


class Server:
    """`oilpath serve` as a process, to be killed and started again at the same place.

    for_phones: where phones are let in; `shown` is then what the laptop shows for them.
    """

    def __init__(self, database: Path, for_phones: str = "") -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = free.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        self.command = [sys.executable, "-m", "oilpath", "serve", "--demo", "--port", str(self.port)]
        self.command += ["--database", str(database), *(["--pair", "--host", for_phones] if for_phones else [])]
        self.folder, self.shown = database.parent, ""
        self.phones = f"https://{for_phones}:{self.port}/"
        self.process: subprocess.Popen[str] | None = None

    def start(self) -> None:
        where = {**os.environ, "PYTHONPATH": str(Path(oilpath.__file__).parents[1]), "XDG_DATA_HOME": str(self.folder)}
        self.process = subprocess.Popen(
            self.command, env=where, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True
        )
        assert self.process.stdout is not None
        self.shown = ""
        for line in self.process.stdout:
            self.shown += line
            if line.startswith("http:") if "--pair" not in self.command else "SHA-256" in self.shown and line == "\n":
                return  # the address, or with phones the blank line after the fingerprint
        raise AssertionError("the server did not start")

    def kill(self) -> None:
        if self.process is not None:
            self.process.kill()
            self.process.communicate()
            self.process = None

    def text(self, sheet: str = SHEET) -> str:
        """What the server has for a sheet, as the page of its file shows it."""
        return Other(self).get(f"{sheet}/text")


class Other:
    """Somebody else, who asks the same server from elsewhere."""

    def __init__(self, server: Server) -> None:
        self.address = server.address
        self._opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor(CookieJar()))

    def get(self, path: str) -> str:
        content: bytes = self._opener.open(self.address + path, timeout=30).read()
        return content.decode()

    def token(self, page: str) -> str:
        found = re.search(r'name="token" value="([^"]+)"', self.get(page))
        assert found is not None
        return found[1]

    def sends(self, page: str, to: str, **fields: str) -> str:
        """Send a form of a page; the path of the page that follows."""
        data = urllib.parse.urlencode({"token": self.token(page), **fields}).encode()
        asked = urllib.request.Request(f"{self.address}{to}", data, {"origin": self.address})
        return str(urllib.parse.urlsplit(self._opener.open(asked, timeout=30).url).path)

    def writes(self, sheet: str, key: str, *typed: str) -> None:
        """Put a field onto a sheet, whatever it holds."""
        data = json.dumps({"changes": [{"key": key, "typed": typed, "was": None}]}).encode()
        headers = {
            "content-type": "application/json", "accept": "application/json", "origin": self.address,
            "x-oilpath-token": self.token(f"{sheet}/entry"),
        }  # fmt: skip
        asked = urllib.request.Request(f"{self.address}{sheet}/entry", data, headers)
        assert json.load(self._opener.open(asked, timeout=30))["changes"][0]["kept"] is True


class Window:
    """A browser's window: goes, finds, types, waits, and keeps what the browser's own logs say."""

    def __init__(self, server: Server) -> None:
        options = webdriver.ChromeOptions()
        options.binary_location = str(CHROMIUM)
        for option in _OPTIONS:
            options.add_argument(option)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        options.set_capability("unhandledPromptBehavior", "accept")
        options.set_capability("acceptInsecureCerts", True)  # a phone's user accepts the laptop's own, too
        self.driver: Any = webdriver.Chrome(options=options, service=Service(str(DRIVER)))
        self.server = server

    def cdp(self, command: str, **what: Any) -> Any:
        return self.driver.execute_cdp_cmd(command, what)

    def size(self, size: tuple[int, int], *, dark: bool = False, media: str = "") -> None:
        width, height = size
        self.cdp(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 800
        )
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        calm = {"name": "prefers-reduced-motion", "value": "reduce"}
        self.cdp("Emulation.setEmulatedMedia", media=media, features=[scheme, calm])

    def go(self, path: str) -> None:
        self.driver.get(self.server.address + path)

    @property
    def path(self) -> str:
        return urllib.parse.urlsplit(str(self.driver.current_url)).path

    def all(self, selector: str) -> list[Any]:
        return list(self.driver.find_elements("css selector", selector))

    def one(self, selector: str) -> Any:
        return self.driver.find_element("css selector", selector)

    def text(self, selector: str = "main") -> str:
        return str(self.one(selector).text)

    def link(self, text: str) -> Any:
        return self.driver.find_element("partial link text", text)

    def button(self, text: str) -> Any:
        return self.driver.find_element("xpath", f"//button[contains(normalize-space(.), '{text}')]")

    def js(self, script: str, *given: Any) -> Any:
        return self.driver.execute_script(script, *given)

    def later(self, script: str, *given: Any) -> Any:
        """The value of a promise."""
        code = f"const done = arguments[arguments.length - 1]; ({script}).then(done, (error) => done(String(error)))"
        return self.driver.execute_async_script(code, *given)

    def until(self, said: Callable[[], Any]) -> None:
        WebDriverWait(self.driver, _SECONDS, poll_frequency=0.1).until(lambda _: said())

    def follow(self, element: Any) -> None:
        """Press what leads to another page, and wait until that is there."""
        old = self.one("html")
        self.press(element)
        self.until(lambda: self._gone(old) and self.js("return document.readyState") == "complete")

    @staticmethod
    def _gone(element: Any) -> bool:
        from selenium.common.exceptions import WebDriverException

        try:
            element.is_enabled()
        except WebDriverException:
            return True
        return False

    def press(self, element: Any) -> None:
        """Bring it into the middle, clear of the bars at the edges, and press it as a finger does."""
        self.js("arguments[0].scrollIntoView({block: 'center'})", element)
        element.click()

    def type(self, name: str, *values: str) -> None:
        """Put values into the boxes of a field, and leave it."""
        boxes = self.driver.find_elements("name", name)
        for box, value in zip(boxes, values, strict=False):
            self.js("arguments[0].scrollIntoView({block: 'center'})", box)
            box.clear()
            box.send_keys(f"{value}\t")

    def choose(self, name: str, text: str) -> None:
        Select(self.driver.find_element("name", name)).select_by_visible_text(text)

    # --- what the browser's own logs say

    def wrong(self) -> list[str]:
        """What stands in the console since it was asked last: breaches of the content policy, errors of scripts."""
        return [one["message"] for one in self.driver.get_log("browser") if one["source"] != "network"]

    def asked(self) -> Iterator[str]:
        """The addresses of all requests since it was asked last."""
        for one in self.driver.get_log("performance"):
            message = json.loads(one["message"])["message"]
            if message["method"] == "Network.requestWillBeSent":
                yield message["params"]["request"]["url"]

    def elsewhere(self, also: Iterable[str] = ()) -> list[str]:
        """Requests to any other address."""
        own = (f"{self.server.address}/", self.server.phones, "data:", "blob:", *also)
        return [address for address in self.asked() if not address.startswith(own)]

    @contextmanager
    def without_scripts(self) -> Iterator[None]:
        self.cdp("Emulation.setScriptExecutionDisabled", value=True)
        try:
            yield
        finally:
            self.cdp("Emulation.setScriptExecutionDisabled", value=False)


@contextmanager
def opened_window(database: Path, for_phones: str) -> Iterator[Window]:
    """A window before a server of its own, both ended afterwards."""
    server = Server(database, for_phones=for_phones)
    server.start()
    made = Window(server)
    yield made
    made.driver.quit()
    server.kill()
