"""A headless Chromium spoken to over a pipe, and a written report to open in it.

The DevTools protocol is plain JSON with a zero byte behind each message, so the
tests need no driver and no package.
Source: Chrome DevTools Protocol, https://chromedevtools.github.io/devtools-protocol/
"""

from __future__ import annotations

import json
import os
import runpy
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

FLAGS = (
    *("--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"),
    *("--disable-background-networking", "--disable-component-update", "--disable-sync"),
    *("--hide-scrollbars", "--remote-debugging-pipe"),
)
START = """
import fcntl, os, sys
ends = [fcntl.fcntl(int(end), fcntl.F_DUPFD_CLOEXEC, 10) for end in sys.argv[1:3]]
os.dup2(ends[0], 3)
os.dup2(ends[1], 4)
os.execv(sys.argv[3], sys.argv[3:])
"""
"""Chromium reads commands from file 3 and writes answers to file 4."""
LONGEST_WAIT = 30.0
READY = (
    "document.readyState === 'complete' && (!document.getElementById('chart-data')"
    " || document.documentElement.dataset.drawn !== undefined)"
)

OPEN_ALL = "document.querySelectorAll('details').forEach(each => { each.open = true })"
CONTRAST = """
(() => {
  const canvas = document.createElement('canvas').getContext('2d', { willReadFrequently: true });
  const channels = (colour) => {
    canvas.fillStyle = colour; canvas.fillRect(0, 0, 1, 1);
    return [...canvas.getImageData(0, 0, 1, 1).data].slice(0, 3).map((each) => {
      const part = each / 255;
      return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
    });
  };
  const light = (colour) => {
    const [red, green, blue] = channels(colour);
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue;
  };
  const behind = (element) => {
    for (let at = element; at; at = at.parentElement) {
      const colour = getComputedStyle(at).backgroundColor;
      if (colour !== 'rgba(0, 0, 0, 0)') return colour;
    }
    return 'white';
  };
  const ratio = (a, b) => (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
  return [...document.querySelectorAll('main *, header *, footer *')]
    .filter((each) => [...each.childNodes].some((node) => node.nodeType === 3 && node.data.trim()))
    .map((each) => {
      const style = getComputedStyle(each);
      const colour = each instanceof SVGElement ? style.fill : style.color;
      if (each instanceof SVGElement && (each.matches('title, .tab'))) return null;
      return [ratio(light(colour), light(behind(each))), each.tagName, each.textContent.trim()];
    })
    .filter(Boolean);
})()
"""
OUTSIDE = """
[...document.querySelectorAll('main *')].filter(each => !each.closest('.scroll')
  && each.getClientRects().length && !each.closest('.plot > *')
  && each.getBoundingClientRect().right > innerWidth + 0.5)
  .map(each => each.tagName + ' ' + each.textContent.slice(0, 40))
"""
CHART_WORDS = """
[...document.querySelectorAll('.plot')].flatMap((plot) => {
  const frame = plot.getBoundingClientRect();
  const texts = [...plot.querySelectorAll('.xtick, .ytick, .annotation-text,'
    + ' .xtitle, .ytitle')].map((each) => [each.textContent, each.getBoundingClientRect()]);
  const out = texts.filter(([, r]) => r.left < frame.left - 1 || r.right > frame.right + 1
    || r.top < frame.top - 1 || r.bottom > frame.bottom + 1).map(([t]) => 'outside: ' + t);
  const meet = texts.flatMap(([a, r], at) => texts.slice(0, at).filter(([, s]) =>
    Math.min(r.right, s.right) - Math.max(r.left, s.left) > 2
    && Math.min(r.bottom, s.bottom) - Math.max(r.top, s.top) > 3)
    .map(([b]) => `${plot.id}: ${a} meets ${b}`));
  return [...out, ...meet];
})
"""


class Browser:
    """One page of one Chromium."""

    def __init__(self, program, profile):
        to_read, self.write_end = os.pipe()
        self.read_end, to_write = os.pipe()
        ends = (str(to_read), str(to_write))
        flags = (*FLAGS, f"--user-data-dir={profile}", "about:blank")
        self.process = subprocess.Popen(
            [sys.executable, "-c", START, *ends, program, *flags],
            pass_fds=(to_read, to_write),
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )
        os.close(to_read)
        os.close(to_write)
        self.waiting, self.events, self.count, self.session = b"", [], 0, None
        target = self.ask("Target.createTarget", url="about:blank")["targetId"]
        attached = self.ask("Target.attachToTarget", targetId=target, flatten=True)
        self.session = attached["sessionId"]
        for domain in ("Log", "Runtime", "Network", "Page"):
            self.ask(f"{domain}.enable")

    def ask(self, method, **params):
        """Send one command and return its result; events that come in between are kept."""
        self.count += 1
        message = {"id": self.count, "method": method, "params": params}
        if self.session:
            message["sessionId"] = self.session
        os.write(self.write_end, json.dumps(message).encode() + b"\0")
        while True:
            answer = self.read()
            if answer.get("id") == message["id"]:
                assert "error" not in answer, answer["error"]
                return answer["result"]
            self.events.append(answer)

    def read(self):
        while b"\0" not in self.waiting:
            some = os.read(self.read_end, 1 << 20)
            assert some, "Chromium has gone"
            self.waiting += some
        message, self.waiting = self.waiting.split(b"\0", 1)
        return json.loads(message)

    def value(self, script):
        """What an expression of the page's comes to."""
        answer = self.ask(
            "Runtime.evaluate", expression=script, awaitPromise=True, returnByValue=True
        )
        assert "exceptionDetails" not in answer, answer["exceptionDetails"]
        return answer["result"].get("value")

    def look(self, *, width=1280, scheme="light", media=""):
        """Set the width of the view and what the reader prefers."""
        self.ask(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=900,
            deviceScaleFactor=1,
            mobile=width < 500,
        )
        features = [{"name": "prefers-color-scheme", "value": scheme}]
        self.ask("Emulation.setEmulatedMedia", media=media, features=features)

    def open(self, path):
        """Open a page and wait until its charts are drawn."""
        self.events = []
        self.ask("Page.navigate", url=path.as_uri())
        self.wait_for(f"location.href === '{path.as_uri()}' && {READY}")

    def wait_for(self, condition):
        end = time.monotonic() + LONGEST_WAIT
        while not self.value(condition):
            assert time.monotonic() < end, f"never came true: {condition}"
            time.sleep(0.01)

    def open_details(self):
        """Unfold everything that is folded."""
        self.value(OPEN_ALL)

    def contrasts(self):
        """Every text with its contrast to what is behind it."""
        return self.value(CONTRAST)

    def out_of_view(self):
        """What runs out of the view to the right; nothing where the page cannot be moved."""
        if self.value("document.documentElement.scrollWidth > innerWidth"):
            return ["the page itself"]
        return self.value(OUTSIDE)

    def chart_word_faults(self):
        """Words of charts that leave the chart or cover each other."""
        return self.value(CHART_WORDS)

    def said(self):
        """Everything that the console shows."""
        kinds = ("Log.entryAdded", "Runtime.consoleAPICalled", "Runtime.exceptionThrown")
        return [each["params"] for each in self.events if each.get("method") in kinds]

    def requested(self):
        """Addresses of everything that was asked for."""
        return [
            each["params"]["request"]["url"]
            for each in self.events
            if each.get("method") == "Network.requestWillBeSent"
        ]

    def close(self):
        self.session = None
        self.ask("Browser.close")
        self.process.wait(timeout=LONGEST_WAIT)
        os.close(self.write_end)
        os.close(self.read_end)


@pytest.fixture(scope="session")
def browser(tmp_path_factory):
    program = shutil.which("chromium")
    if program is None:
        reason = "no Chromium on this machine"
        if os.environ.get("MAKEWORTH_REQUIRE_BROWSER") == "1":
            pytest.fail(reason)
        pytest.skip(reason)
    opened = Browser(program, tmp_path_factory.mktemp("profile"))
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def sample():
    """The functions that make the sample report."""
    return runpy.run_path(str(Path(__file__).with_name("sample_report.py")))


@pytest.fixture(scope="session")
def report(sample):
    return sample["harrow_fen"]()


@pytest.fixture(scope="session")
def folder(report, tmp_path_factory):
    from reports.write import write_report

    return write_report(tmp_path_factory.mktemp("report"), report).index.parent
