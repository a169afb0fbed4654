"""A headless Chromium driven over its DevTools pipe, with the standard library: no driver, no port, no network."""

import base64
import fcntl
import json
import os
import shutil
import subprocess
import tempfile
import time
from pathlib import Path

FLAGS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--hide-scrollbars",
    "--remote-debugging-pipe",
)
NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
WAIT_S = 90
DRAWN = """document.readyState === "complete" &&
    (!document.querySelector(".chart") || !!document.documentElement.dataset.drawn)"""


def find() -> str | None:
    """The Chromium of this machine, None where there is none."""
    return next((path for name in NAMES if (path := shutil.which(name))), None)


def _wire(to_browser: int, from_browser: int) -> None:
    """In the new process: commands come on 3, answers go on 4, wherever the pipes were before."""
    read, write = (fcntl.fcntl(end, fcntl.F_DUPFD, 10) for end in (to_browser, from_browser))
    os.dup2(read, 3)
    os.dup2(write, 4)


class Browser:
    """One browser process; use as a context manager."""

    def __enter__(self):
        self.profile = tempfile.mkdtemp()
        to_browser, self.write_end = os.pipe()
        self.read_end, from_browser = os.pipe()
        self.process = subprocess.Popen(
            [find(), *FLAGS, f"--user-data-dir={self.profile}", "about:blank"],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, close_fds=False,
            preexec_fn=lambda: _wire(to_browser, from_browser),
        )  # fmt: skip
        os.close(to_browser)
        os.close(from_browser)
        self.count, self.left, self.events = 0, b"", []
        return self

    def __exit__(self, *_):
        self.process.kill()
        self.process.wait()
        os.close(self.write_end)
        os.close(self.read_end)
        shutil.rmtree(self.profile, ignore_errors=True)

    def send(self, method: str, session: str | None = None, **params):
        self.count += 1
        message = {"id": self.count, "method": method, "params": params} | ({"sessionId": session} if session else {})
        os.write(self.write_end, json.dumps(message).encode() + b"\0")
        wanted = self.count
        while True:
            got = self.receive()
            if got.get("id") == wanted:
                if "error" in got:
                    raise RuntimeError(f"{method}: {got['error']['message']}")
                return got["result"]
            self.events.append(got)

    def receive(self) -> dict:
        end = time.monotonic() + WAIT_S
        while b"\0" not in self.left:
            if time.monotonic() > end:
                raise TimeoutError("the browser did not answer")
            self.left += os.read(self.read_end, 1 << 20)
        one, self.left = self.left.split(b"\0", 1)
        return json.loads(one)

    def open(self, path: Path, width: int = 1440, height: int = 1000, dark: bool = False) -> "Tab":
        target = self.send("Target.createTarget", url="about:blank")["targetId"]
        session = self.send("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        return Tab(self, target, session, path, width, height, dark)


class Tab:
    """A page opened from disk with the network off, drawn to its last chart. log: what the console said."""

    def __init__(self, browser, target, session, path: Path, width, height, dark):
        self.browser, self.target, self.session = browser, target, session
        for domain in ("Page", "Runtime", "Log", "Network"):
            self.do(f"{domain}.enable")
        self.do("Network.emulateNetworkConditions", offline=True, latency=0, downloadThroughput=0, uploadThroughput=0)
        self.do("Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=False)
        self.media("screen", dark)
        self.do("Page.navigate", url=path.resolve().as_uri())
        end = time.monotonic() + WAIT_S
        while not self.run(DRAWN):
            if time.monotonic() > end:
                raise TimeoutError(f"{path.name} was not drawn in {WAIT_S} s")
            time.sleep(0.05)

    def do(self, method: str, **params):
        return self.browser.send(method, self.session, **params)

    def media(self, media: str, dark: bool = False) -> None:
        scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
        self.do("Emulation.setEmulatedMedia", media=media, features=[scheme])

    def run(self, script: str):
        """The value of an expression; a promise is awaited."""
        got = self.do("Runtime.evaluate", expression=script, returnByValue=True, awaitPromise=True)
        if "exceptionDetails" in got:
            raise RuntimeError(got["exceptionDetails"].get("exception", {}).get("description", "script failed"))
        return got["result"].get("value")

    def key(self, key: str, code: int, text: str = "", modifiers: int = 0) -> None:
        for kind in ("keyDown", "keyUp"):
            self.do("Input.dispatchKeyEvent", type=kind, key=key, code=key, windowsVirtualKeyCode=code,
                    modifiers=modifiers, **({"text": text} if text and kind == "keyDown" else {}))  # fmt: skip

    def said(self) -> list[str]:
        """Everything the console or the network layer reported for this tab."""
        mine = [event for event in self.browser.events if event.get("sessionId") == self.session]
        found = []
        for event in mine:
            params = event["params"]
            if event["method"] == "Runtime.exceptionThrown":
                found.append(params["exceptionDetails"].get("exception", {}).get("description", "exception"))
            elif event["method"] == "Runtime.consoleAPICalled":
                found.append(" ".join(str(part.get("value")) for part in params["args"]))
            elif event["method"] == "Log.entryAdded":
                found.append(params["entry"]["text"])
        return found

    def requests(self) -> list[str]:
        """Addresses the page asked for, itself left out."""
        mine = [event for event in self.browser.events if event.get("sessionId") == self.session]
        urls = [event["params"]["request"]["url"] for event in mine if event["method"] == "Network.requestWillBeSent"]
        return [url for url in urls if not url.startswith(("file:", "data:", "about:"))]

    def picture(self, path: Path, selector: str | None = None) -> None:
        """The whole page, or one element, as PNG."""
        element = f"document.querySelector({json.dumps(selector or 'body')})"
        box = self.run(f"""(() => {{ const one = {element}.getBoundingClientRect();
            return [one.x + scrollX, one.y + scrollY, one.width, one.height] }})()""")
        clip = {"x": box[0], "y": box[1], "width": box[2], "height": box[3], "scale": 1}
        got = self.do("Page.captureScreenshot", format="png", captureBeyondViewport=True, clip=clip)
        path.write_bytes(base64.b64decode(got["data"]))

    def pdf(self, width_in: float = 8.27, height_in: float = 11.69) -> bytes:
        """The page as its reader would print it."""
        self.media("")
        got = self.do("Page.printToPDF", paperWidth=width_in, paperHeight=height_in, preferCSSPageSize=False,
                      printBackground=False, generateTaggedPDF=True)  # fmt: skip
        return base64.b64decode(got["data"])

    def close(self) -> None:
        self.browser.send("Target.closeTarget", targetId=self.target)
