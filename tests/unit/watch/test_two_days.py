"""Two days of the whole watch in seconds: prices land, alerts begin and end, nights are quiet.

What is expected follows from the settings below and from when files are put down.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from advisor.tasks.starting import start_workspace
from advisor.tasks.workspace import open_workspace
from advisor.watch import watching
from advisor.watch.hold import watch_folder
from advisor.watch.journal import Journal
from advisor.watch.schedule import Clock
from advisor.watch.status import read_status
from advisor.watch.watching import Watch

DAY = 86_400.0
SETTINGS = """
[watch]
every_minutes = 60
quiet_from = "23:00"
quiet_until = "08:00"
send = ["json://127.0.0.1:9/"]
[[alert]]
item = "binding wax"
stale_days = 0.5
[[alert]]
item = "etching salt"
above = 1
"""


class Post:
    """Takes posts down with their time; is out of reach for a while."""

    def __init__(self):
        self.sent, self.tries, self.reachable = [], 0, True

    def __call__(self, addresses, title, body):
        self.tries += 1
        if not self.reachable:
            return "the receiver did not take it"
        self.sent.append((now(), body.split(":")[0]))
        return None


def now():
    return datetime.now(UTC).strftime("%d %H:%M")


@pytest.fixture
def watch_on(tmp_path, monkeypatch):
    start_workspace(tmp_path / "fen", timezone="UTC")
    with (tmp_path / "fen" / "makeworth.toml").open("a") as file:
        file.write(SETTINGS)
    monkeypatch.setattr(watching, "INBOX_SECONDS", 120.0)
    monkeypatch.setattr(watching, "SEND_SECONDS", 120.0)
    place = open_workspace(str(tmp_path / "fen"))
    folder = watch_folder(place.folder)

    def make(clock, post):
        journal = Journal(folder)
        return Watch(
            place, folder, journal, Clock(clock.wait, clock.steady), sender=post, threads=False
        )

    return make


def put_prices(watch, salt):
    at = datetime.now(UTC).strftime("%Y-%m-%dT%H:%MZ")
    rows = f"item,price,at\nbinding wax,2.33,{at}\netching salt,{salt},{at}\n"
    (watch.workspace.inbox / "prices.csv").write_text(rows)


def test_two_days(watch_on, played, monkeypatch):
    pages = []
    clock, post = played(2 * DAY), Post()
    watch = watch_on(clock, post)

    def write_pages(workspace, *, on_part):
        pages.append(now())
        if pages[-1].startswith("03 1"):
            raise OSError(28, "No space left on device")
        return type("Written", (), {"written": ("index",), "unchanged": ()})()

    monkeypatch.setattr(watching, "report_workspace", write_pages)
    # Hours after 2 November, 18:00.
    put_down = {0: 0.95, 4: 1.2, 15: 1.2, 23: 1.2, 25: 1.2}
    before = []

    def live(seconds):
        hour = int(seconds // 3600)
        if hour in put_down and hour not in before:
            before.append(hour)
            put_prices(watch, put_down[hour])
        post.reachable = not 3.5 <= seconds / 3600 < 4.5

    clock.on_wait = live
    watch.run()
    watch.journal.close()
    # At 22:00 the salt rises over 1, while the receiver is out of reach until 22:30; it is
    # tried after 1, 2, 4, 8 and 16 minutes. Nobody looks at the wax after 19:00: it is stale
    # from 7:00 on, in the quiet hours until 8:00.
    (salt_at, salt), (wax_at, wax) = post.sent
    assert (salt, wax) == ("etching salt at 1 shell or more", "no look at binding wax for 0.5 days")
    assert "02 22:30" <= salt_at <= "02 22:36"
    assert "04 08:00" <= wax_at <= "04 08:02"
    assert post.tries == 7
    # Pages failed for hours: growing pauses meanwhile, and on again after.
    failed = [at for at in pages if at.startswith("03 1")]
    assert 3 <= len(failed) <= 16
    assert pages[-1].startswith("04 17")
    status = read_status(watch.workspace.folder)
    assert [job.name for job in status.jobs] == ["inbox", "alerts", "pages", "send"]
    assert all(job.failures == 0 for job in status.jobs)
    assert len(list((watch.workspace.inbox / "done").iterdir())) == len(put_down)
