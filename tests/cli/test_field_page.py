"""The page of a field copy in a real browser without a network: boxes, photos, what is saved."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from beside import module_of
from PIL import Image

from geoprofile.store import Store, inspect

pytestmark = pytest.mark.calibration  # a browser, some ten seconds of it
BROWSER = next(
    (b for b in ("chromium", "chromium-browser", "google-chrome") if shutil.which(b)), ""
)
PATIENCE_S = 120.0
NO_NETWORK = {"offline": True, "latency": 0, "downloadThroughput": 0, "uploadThroughput": 0}


class Browser:
    """A browser without a window, told what to do over a pipe (Chrome DevTools Protocol)."""

    def __init__(self, folder: Path) -> None:
        (theirs_in, self.write), (self.read, theirs_out) = os.pipe(), os.pipe()
        self.downloads = folder / "downloads"
        words = (
            f"exec {BROWSER} --headless=new --no-sandbox --disable-gpu --remote-debugging-pipe "
            f"--user-data-dir={folder / 'profile'} --window-size=1000,1400 about:blank "
            f"3<&{theirs_in} 4>&{theirs_out}"
        )
        self.process = subprocess.Popen(
            ["bash", "-c", words],
            pass_fds=(theirs_in, theirs_out),
            env={**os.environ, "HOME": str(folder)},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(theirs_in)
        os.close(theirs_out)
        self.rest, self.number, self.session, self.asked = b"", 0, "", []
        downloads = {"behavior": "allow", "downloadPath": str(self.downloads)}
        self.do("Browser.setDownloadBehavior", **downloads)

    def open(self, page: Path) -> None:
        """Open a page of the disk, with the network off."""
        target = self.do("Target.createTarget", url="about:blank")["targetId"]
        self.session = self.do("Target.attachToTarget", targetId=target, flatten=True)["sessionId"]
        self.do("Network.enable")
        self.do("Network.emulateNetworkConditions", **NO_NETWORK)
        self.do("Page.enable")
        self.do("Page.navigate", url=page.as_uri())
        self.until("document.readyState === 'complete' && zones.length > 0")

    def do(self, method: str, **values: Any) -> dict[str, Any]:
        """One command; its answer. Remembers what was asked of the network meanwhile."""
        self.number += 1
        told = {"id": self.number, "method": method, "params": values}
        told |= {"sessionId": self.session} if self.session else {}
        os.write(self.write, json.dumps(told).encode() + b"\0")
        while True:
            *whole, self.rest = self.rest.split(b"\0")
            for number, text in enumerate(whole):
                said = json.loads(text)
                if said.get("method") == "Network.requestWillBeSent":
                    self.asked.append(said["params"]["request"]["url"])
                if said.get("id") == self.number:
                    self.rest = b"\0".join([*whole[number + 1 :], self.rest])
                    assert "error" not in said, said
                    return said["result"]
            more = os.read(self.read, 1 << 20)
            assert more, "the browser is gone"
            self.rest += more

    def say(self, script: str) -> Any:
        """The value of a script, as if a hand had touched the page."""
        given = {"returnByValue": True, "awaitPromise": True, "userGesture": True}
        said = self.do("Runtime.evaluate", expression=script, **given)
        assert "exceptionDetails" not in said, said
        return said["result"].get("value")

    def until(self, script: str) -> None:
        """Wait until a script is true."""
        end = time.monotonic() + PATIENCE_S
        while not self.say(script):
            assert time.monotonic() < end, script
            time.sleep(0.1)

    def choose(self, selector: str, *files: Path) -> None:
        """Choose files in a field, as the dialog of the browser would."""
        root = self.do("DOM.getDocument")["root"]["nodeId"]
        node = self.do("DOM.querySelector", nodeId=root, selector=selector)["nodeId"]
        self.do("DOM.setFileInputFiles", nodeId=node, files=[str(f) for f in files])

    def picture(self, file: Path) -> None:
        """What the page looks like."""
        import base64

        file.write_bytes(base64.b64decode(self.do("Page.captureScreenshot")["data"]))

    def saved(self, count: int) -> Path:
        """The newest download, once there are so many."""
        end = time.monotonic() + PATIENCE_S
        while True:
            found = sorted(self.downloads.glob("*.json"), key=lambda p: p.stat().st_mtime_ns)
            if len(found) >= count:
                return found[-1]
            assert time.monotonic() < end, "no download"
            time.sleep(0.1)

    def close(self) -> None:
        """End the browser."""
        self.process.terminate()
        self.process.wait(30)
        os.close(self.write)
        os.close(self.read)


@pytest.fixture
def browser(tmp_path: Path) -> Iterator[Browser]:
    """A browser with a profile of its own."""
    if not BROWSER:
        pytest.skip("no browser on this machine (Debian: apt-get install chromium)")
    made = Browser(tmp_path)
    yield made
    made.close()


@pytest.fixture
def site(tmp_path: Path, command: Callable[..., Any]) -> Path:
    """The small site of the fault tests, loaded."""
    folder = module_of("faults/small_site.py").write_small_site(tmp_path / "site")
    assert command("create", "site.gpkg", "--crs", "EPSG:32632", cwd=folder).returncode == 0
    assert command("load", "site.gpkg", ".", cwd=folder).returncode == 0
    return folder / "site.gpkg"


def photo(path: Path) -> Path:
    """A photo as a camera writes it: large, lying on its side, with remarks about the device."""
    image = Image.effect_noise((2400, 1800), 40).convert("RGB")
    image.paste((200, 30, 30), (0, 0, 2400, 300))  # the upper edge as the camera was held
    notes = image.getexif()
    notes[0x0112] = 6  # orientation: to be turned by 90 degrees (CIPA DC-008, from memory)
    notes[0x0110] = "model of a camera"
    image.save(path, quality=90, exif=notes)
    os.utime(path, (1935662400, 1935662400))  # 2031-05-04T12:00:00Z
    return path


def test_entries_and_photos_come_back(
    browser: Browser, site: Path, tmp_path: Path, command: Callable[..., Any]
) -> None:
    """Filled in, photographed, saved, brought in twice, corrected, saved and brought in again."""
    answer = command("field", "out", "site.gpkg", "A1", cwd=site.parent)
    assert answer.returncode == 0, answer.stderr
    page = next(site.parent / x for x in answer.stdout.splitlines() if x.endswith(".html"))
    browser.open(page)
    name = browser.say("zones[0].dataset.zone")
    camera = photo(tmp_path / "IMG_1.jpg")
    (tmp_path / "notes.jpg").write_text("no picture")
    browser.choose("section .photos input[capture]", camera)
    browser.choose(
        "section .photos label:nth-of-type(2) input", camera.parent / "notes.jpg", camera
    )
    browser.until("zones[0].querySelectorAll('figure').length === 2 && !+zones[0].dataset.waiting")
    assert "notes.jpg is no picture" in browser.say("zones[0].querySelector('.refused').innerText")
    browser.say("zones[0].querySelectorAll('figure button')[1].click()")
    browser.say(
        "var box = zones[0].querySelector('[name=remarks]'); box.value = 'wet core';"
        "box.dispatchEvent(new Event('input', {bubbles: true}));"
        "var what = zones[0].querySelector('figure input'); what.value = 'upper packer';"
        "what.dispatchEvent(new Event('input', {bubbles: true}))"
    )
    assert browser.say("status.textContent") == f"Not saved yet: {name}"
    if folder := os.environ.get("LOOK"):
        browser.say("zones[0].querySelector('.photos').scrollIntoView({block: 'end'})")
        browser.picture(Path(folder) / "field_page.png")
    browser.say("zones[0].querySelector('button.save').click()")
    saved = browser.saved(1)
    assert browser.say("status.textContent") == ""
    assert 10_000 < saved.stat().st_size < 3_000_000
    for _ in range(2):
        answer = command("field", "in", site, saved)
        assert answer.returncode == 0, answer.stderr
    assert "No row was changed" in answer.stderr
    columns = ["path", "what", "borehole", "interval", "taken_at"]
    (row,) = Store.open(site).rows("attachment", columns)
    assert row[1:] == ("upper packer", "A1", name, "2031-05-04T12:00:00Z")
    with Image.open(site.parent / row[0]) as kept:
        assert kept.size == (1200, 1600)
        assert not kept.getexif()
        red, green, _ = kept.getpixel((1190, 800))  # the upper edge is now at the right
        assert red > 150
        assert green < 80
    browser.say("what.value = 'lower packer'; zones[0].querySelector('button.save').click()")
    assert command("field", "in", site, browser.saved(2)).returncode == 0
    (again,) = Store.open(site).rows("attachment", columns)
    assert again == (row[0], "lower packer", *row[2:])
    assert inspect(site) == []
    assert not [a for a in browser.asked if not a.startswith(("file:", "data:", "blob:"))]
