"""`makeworth report guide`: a route written out for others, whatever kind of route it is."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest

AT = ("--as-of", "2026-11-04")
PRICES = (
    "lantern frame 2.4 x60",
    "binding wax 7/3 x90",
    "etching salt 0.95 x200",
    "clear flux 10.5 x8",
    "lens setting 35",
    "storm lantern 560 x1",
    "scrap glass 0.8",
    "river dye 5",
    "lens blank 15",
    "cut lens 90",
)
POOL = """
[pool]
slots = { etched = 1, inlaid = 1 }
[pool.count]
all = { 1 = 1, 2 = 1 }
[[base]]
item = "lantern frame"
traits = ["brass"]
[[base]]
item = "river frame"
[[affix]]
name = "steady flame"
kind = "etched"
group = "flame"
tier = 1
weight = 100
item_level = 60
needs = ["brass"]
[[affix]]
name = "small flame"
kind = "etched"
group = "flame"
tier = 2
weight = 300
item_level = 20
[[affix]]
name = "pale glow"
kind = "inlaid"
group = "glow"
weight = 400
"""
DRAWN = """
[route]
makes = "cut lens"
pool = "lantern"
base = "lantern frame"
item_level = 60
start = "empty table"
about = "Wash until the flame is there"
[[step]]
name = "take a frame"
from = "empty table"
uses = { "lantern frame" = 1 }
put = []
[[step]]
name = "wash"
when = {}
uses = { "river dye" = 2 }
effect = { redraw = "all" }
[finish]
all = ["flame:2"]
[[grade]]
item = "scrap glass"
all = ["glow:1"]
"""
RUNGS = """
[route]
makes = "cut lens"
start = "empty bench"
finish = "edge 3"
[[step]]
name = "take a blank"
from = "empty bench"
uses = { "lens blank" = 1 }
to = "edge 0"
[[step]]
name = "harden {n}"
vary = { n = "0..2" }
from = "edge {n}"
uses = { "etching salt" = { by = "n", values = [1, 2, 4] } }
[step.outcomes]
"edge {n+1}" = { by = "n", values = ["90 %", "60 %", "30 %"] }
"edge {n-1:0..}" = "8 %"
"empty bench" = "rest"
[[step]]
name = "throw away"
from = "edge 1"
to = "empty bench"
"""


@pytest.fixture
def fen(workspace, makeworth):
    run = makeworth("quote", *PRICES, "--at", "2026-11-04T20:10", cwd=workspace)
    assert run.code == 0, run.err
    (workspace / "pools" / "lantern.toml").write_text(POOL)
    (workspace / "routes" / "washed.toml").write_text(DRAWN)
    (workspace / "routes" / "hardened.toml").write_text(RUNGS)
    settings = workspace / "makeworth.toml"
    lots = '[item."etching salt"]\nlots_of = 10'
    settings.write_text(settings.read_text().replace('[item."etching salt"]', lots))
    return workspace


@pytest.fixture
def guide(fen, makeworth):
    """Writes a guide and gives its Markdown."""

    def write(route, *words):
        run = makeworth("report", "guide", route, *AT, *words, cwd=fen)
        assert run.code == 0, run.err
        return (fen / "reports" / f"guide-{route}.md").read_text()

    return write


def rows_under(text, heading):
    """Cells of the first table under a heading."""
    part = text.split(f"# {heading}\n", 1)[1]
    lines = re.search(r"(?:^\|.*\n)+", part, re.MULTILINE).group(0).splitlines()
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[2:]]


def test_steps_have_the_file_s_odds_and_what_to_do_then(guide):
    text = guide("storm-lantern")
    assert rows_under(text, "2. Etch") == [
        ["2.5 %", "marked frame", "go on with step 3, seal"],
        ["97.5 %", "empty table", "go on with step 1, take a frame"],
    ]
    assert "Uses 3 etching salt and 1 binding wax" in text
    assert ["40 %", "storm lantern, using 1 lens setting", "it is made"] in rows_under(
        text, "3. Seal"
    )


def test_numbers_are_those_of_the_route_command(guide, fen, makeworth):
    from advisor.figures import amount

    text = guide("storm-lantern")
    answer = makeworth("route", "storm-lantern", *AT, "--json", cwd=fen).json
    mean, night = answer["cost"]["mean"], answer["cost"]["quantiles"]["0.95"]
    assert f"costs {amount(mean)} shell on average, and {amount(night)} or more" in text
    shopping = {row[0]: row[1:] for row in rows_under(text, "Shopping list for one")}
    for item, use in answer["use"].items():
        sure = [use["quantiles"][share] for share in ("0.5", "0.8", "0.95")]
        if item == "etching salt":  # only sold in tens
            sure = [-(-units // 10) * 10 for units in sure]
        assert shopping[item][:4] == [amount(each, digits=3) for each in (use["mean"], *sure)]
    # closed form: 1 frame in 40 is marked; sealing, unless nothing happens, holds 40 in 65
    assert shopping["lantern frame"][0] == amount(float(40 * Fraction(65, 40)))


def test_a_pool_route_says_base_level_and_what_excludes_what(guide):
    text = guide("washed")
    assert "Start from lantern frame (brass) of item level 60." in text
    assert "made when it carries flame 2 or better" in text
    assert "That can come from item level 20 on. From 60 on the best tier of each can come." in text
    assert "at most 1 etched and 1 inlaid, and never two of one group" in text
    bases = {row[0]: row[1:] for row in rows_under(text, "What to know before you start")}
    # one draw takes a flame in 4 of 8, two draws always take both kinds: (1/2 + 1) / 2
    assert bases["lantern frame"][:4] == ["brass", "75 %", "20", "60"]
    assert bases["river frame"][0] == "–"
    assert (
        "all affixes leave and new ones are drawn, 1 (50 %) or 2 (50 %) of them".capitalize()
        in text
    )
    assert "Whatever is on it, short of what is wanted: wash (step 2)." in text
    assert "A piece with glow 1 sells as scrap glass" in text


def test_rungs_are_one_table(guide):
    text = guide("hardened")
    assert rows_under(text, "2. Harden 0 to harden 2") == [
        ["edge 0", "1", "90 %", "8 %", "2 %"],
        ["edge 1", "2", "60 %", "8 %", "32 %"],
        ["edge 2", "4", "30 %", "8 %", "62 %"],
    ]
    assert "- edge n+1: go on likewise; from edge 2, it is made." in text
    assert "- empty bench: go on with step 1, take a blank." in text
    assert "Not on the best way at these prices: throw away." in text


def test_what_can_be_bought_and_sold_on_the_way_is_told(guide, fen, makeworth):
    makeworth("quote", "marked lantern frame 20 x3", "--at", "2026-11-04T20:20", cwd=fen)
    text = guide("storm-lantern")
    assert "### 1. Buy marked lantern frame" in text
    (row,) = rows_under(text, "Where one may stop or sell")
    assert row[:2] == ["marked frame", "marked lantern frame"]
    assert row[3] == "20"
    assert row[5] == "begin here by buying; then go on with step 2, seal"


def test_page_and_text_say_the_same_and_nothing_is_written_twice(guide, fen, makeworth):
    text = guide("storm-lantern")
    page = (fen / "reports" / "guide-storm-lantern.html").read_text()
    assert "<script" not in page
    assert "default-src 'none'" in page
    plain = re.sub(r"<style>.*?</style>|<[^>]+>", "", page, flags=re.DOTALL)
    plain = " ".join(plain.replace("&#39;", "'").split())
    cells = re.split(r"[|\n]|^#+ |^- ", re.sub(r"\\(.)", r"\1", text), flags=re.MULTILINE)
    said = {" ".join(cell.split()) for cell in cells if re.search(r"\w", cell)}
    assert len(said) > 60
    assert [cell for cell in said if cell not in plain] == []
    again = makeworth("report", "guide", "storm-lantern", *AT, "--json", cwd=fen).json
    assert again["written"] == []


def test_names_stay_text(fen, makeworth):
    route = fen / "routes" / "storm-lantern.toml"
    route.write_text(route.read_text().replace('"etch"', '"etch <b>*now*</b> | then"'))
    run = makeworth("report", "guide", "storm-lantern", *AT, cwd=fen)
    assert run.code == 0, run.err
    assert (
        "etch &lt;b&gt;*now*&lt;/b&gt; | then"
        in (fen / "reports" / "guide-storm-lantern.html").read_text()
    )
    text = (fen / "reports" / "guide-storm-lantern.md").read_text()
    assert r"go on with step 2, etch \<b\>\*now\*\</b\> \| then" in text


def test_an_answer_that_fails_is_told_and_keeps_no_other(fen, makeworth):
    (fen / "routes" / "foggy.toml").write_text(
        '[route]\nmakes = "fog lamp"\n[[step]]\nname = "mix"\nfrom = "empty table"\n'
        'uses = { "bog oil" = 2 }\nto = "fog lamp"\n'
    )
    run = makeworth("report", *AT, "--json", cwd=fen)
    assert run.code == 0, run.err
    names = {path.rsplit("/", 1)[-1] for path in run.json["written"]}
    assert {"stock-storm-lantern.html", "service-hardened.html", "sell-cut-lens.html"} <= names
    assert "stock-foggy.html" not in names
    index = (fen / "reports" / "index.html").read_text()
    # one reason, told once for all that it keeps from an answer
    told = r"<li>fog lamp, supplies for foggy, service by foggy: routes/foggy.toml.*bog oil.*</li>"
    assert re.search(told, index)


def test_alerts_that_hold_are_told_and_their_addresses_are_not(fen, makeworth):
    settings = fen / "makeworth.toml"
    alert = '\n[[alert]]\nitem = "{}"\nbelow = {}\nsend = ["json://secret.invalid/"]\n'
    written = alert.format("lantern frame", 3) + alert.format("clear flux", 2)
    settings.write_text(settings.read_text() + written)
    assert makeworth("report", *AT, cwd=fen).code == 0
    index = (fen / "reports" / "index.html").read_text()
    told = re.findall(r"<li>(.*)</li>", index.split('id="alerts"')[1].split("</section>")[0])
    assert told[0].startswith('<strong class="holds">Now: lantern frame at 3 shell or less')
    assert told[1].startswith("Not yet: clear flux at 2 shell or less")
    assert "secret" not in index


@pytest.mark.parametrize("words", [("report",), ("report", "guide", "storm-lantern")])
def test_open_shows_the_page_in_a_browser(fen, makeworth, monkeypatch, words):
    import webbrowser

    opened = []
    monkeypatch.setattr(webbrowser, "open", lambda address: opened.append(address) or True)
    run = makeworth(*words, *AT, "--open", cwd=fen)
    assert run.code == 0, run.err
    page = "index.html" if len(words) == 1 else "guide-storm-lantern.html"
    assert opened == [(fen / "reports" / page).as_uri()]
