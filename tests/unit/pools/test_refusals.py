"""Everything that is refused, with file, line and name; each fault is made in a sound file."""

from __future__ import annotations

import pytest

from advisor.errors import BadInput, RouteFault
from advisor.routes.build import build_stages
from advisor.routes.pools.read_pool import find_pool, read_pool
from advisor.routes.read import read_route

POOL = """[pool]
slots = { etched = 2, inlaid = 1 }
placed_at_most = 1
[pool.count]
all = { 1 = 1, 2 = 1 }
[pool.survivors]
1 = { 0 = 1, 1 = 2 }
2 = { 1 = 2, 2 = 1 }
[[base]]
item = "lantern frame"
traits = ["brass"]
[[base]]
item = "river frame"
[[affix]]
name = "steady flame"
kind = "etched"
group = "flame"
weight = 250
item_level = 40
needs = ["brass"]
[[affix]]
name = "dim flame"
kind = "etched"
group = "flame"
tier = 2
weight = 500
[[affix]]
name = "ward"
kind = "etched"
weight = 300
[[affix]]
name = "seam"
kind = "etched"
weight = 300
[[affix]]
name = "chime"
kind = "inlaid"
weight = 100
[[affix]]
name = "bright lens"
kind = "inlaid"
weight = 0
[[affix]]
name = "tide song"
kind = "inlaid"
weight = 20
set = "hidden"
"""
ROUTE = """[route]
makes = "storm lantern"
pool = "lantern"
base = "lantern frame"
item_level = 60
[finish]
all = ["flame:2", "chime"]
[[step]]
name = "take a frame"
from = "empty table"
uses = { "lantern frame" = 1 }
put = []
[[step]]
name = "wash and draw"
when = {}
uses = { "river dye" = 1 }
effect = { redraw = "all" }
[[step]]
name = "break up"
when = {}
to = "empty table"
"""
AFFIX = '[[affix]]\nname = "glow"\nkind = "inlaid"\nweight = 1\n'


def refusal(folder, *, pool=POOL, route=ROUTE):
    """The sentence about a pool and a route, without the folder."""
    for name in ("pools", "routes"):
        (folder / name).mkdir(exist_ok=True)
    (folder / "pools/lantern.toml").write_text(pool)
    (folder / "routes/evening.toml").write_text(route)
    with pytest.raises(BadInput) as caught:
        build_stages(read_route(folder / "routes/evening.toml"), goal="keep", money="shell")
    return str(caught.value).replace(f"{folder}/", "")


def test_the_sound_files_are_not_refused(tmp_path):
    for name in ("pools", "routes"):
        (tmp_path / name).mkdir()
    (tmp_path / "pools/lantern.toml").write_text(POOL)
    (tmp_path / "routes/evening.toml").write_text(ROUTE)
    route = read_route(tmp_path / "routes/evening.toml")
    model = build_stages(route, goal="keep", money="shell")
    assert "flame 2 or better" in model.stages


POOL_FAULTS = [
    ("slots = { etched = 2, inlaid = 1 }", "slots = { etched = 0, inlaid = 1 }", 2, "0 slots"),
    ("slots = { etched = 2, inlaid = 1 }", "slots = {}", 2, "`slots` is missing"),
    ("slots = { etched = 2, inlaid = 1 }", "slots = { all = 2 }", 2, "cannot be called"),
    ("slots = { etched = 2, inlaid = 1 }", "slot = { etched = 2 }", 2, 'did you mean "slots"'),
    ("placed_at_most = 1", "placed_at_most = -1", 3, "-1"),
    ("all = { 1 = 1, 2 = 1 }", "etchd = { 1 = 1 }", 5, 'did you mean "etched"'),
    ("all = { 1 = 1, 2 = 1 }", "all = { 1 = -1 }", 5, "0 or more"),
    ("all = { 1 = 1, 2 = 1 }", "all = { 1 = 0 }", 5, "only weights of zero"),
    ("all = { 1 = 1, 2 = 1 }", "all = { one = 1 }", 5, "not a number of affixes"),
    ("1 = { 0 = 1, 1 = 2 }", "1 = { 0 = 1, 2 = 2 }", 7, "of 1 in the pot 2 are kept"),
    ("1 = { 0 = 1, 1 = 2 }", "0 = { 0 = 1 }", 7, "not a pot size"),
    ('item = "river frame"', 'item = "Lantern  frame"', 13, "written twice"),
    ('name = "dim flame"', 'name = "Steady Flame"', 22, "first is on line 14"),
    ('kind = "inlaid"\nweight = 100', 'kind = "inlayed"\nweight = 100', 37, "unknown kind"),
    ("weight = 250", "weight = -250", 18, "0 or more"),
    ("weight = 250", 'weight = "many"', 18, "'many'"),
    ("weight = 250", "", 14, "no weight"),
    ('needs = ["brass"]', 'needs = ["bras"]', 20, 'did you mean "brass"'),
    ("tier = 2", "tier = 0", 25, "1 or more"),
    ("item_level = 40", "item_level = -1", 19, "0 or more"),
    ('group = "flame"\ntier = 2', 'group = "flame"', 24, None),
]


@pytest.mark.parametrize(("sound", "faulty", "line", "words"), POOL_FAULTS)
def test_pool_file(tmp_path, sound, faulty, line, words):
    assert sound in POOL
    pool = POOL.replace(sound, faulty, 1)
    if words is None:  # a tier twice is fine while levels or traits tell them apart
        assert read_pool_text(tmp_path, pool)
        pool = pool.replace('item_level = 40\nneeds = ["brass"]\n', "")
        line, words = 22, "are both tier 1"
    told = refusal(tmp_path, pool=pool)
    assert told.startswith(f"pools/lantern.toml, line {line}:"), told
    assert words in told


def read_pool_text(folder, text):
    path = folder / "x.toml"
    path.write_text(text)
    return read_pool(path)


def test_every_weight_zero(tmp_path):
    head = POOL.split("[[affix]]", maxsplit=1)[0]
    told = refusal(tmp_path, pool=head + AFFIX.replace("weight = 1", "weight = 0"))
    assert "every affix has weight 0" in told


@pytest.mark.parametrize("part", ["pool", "base", "affix"])
def test_a_missing_part_of_the_pool(tmp_path, part):
    pool = POOL.replace("[pool]\n", "[pool.x]\n") if part == "pool" else POOL
    if part != "pool":
        blocks = POOL.split("[[")
        pool = "[[".join(each for each in blocks if not each.startswith(part))
    assert part in refusal(tmp_path, pool=pool)


FINISH = 'all = ["flame:2", "chime"]'
DRAW = 'effect = { redraw = "all" }'
TO = 'to = "empty table"'
ROUTE_FAULTS = [
    ("item_level = 60", "item_level = -3", 5, "`item_level` is -3"),
    ('effect = { redraw = "all" }', 'effect = { redrwa = "all" }', 17, 'did you mean "redraw"'),
    ('base = "lantern frame"', 'base = "lantern fraem"', 4, 'did you mean "lantern frame"'),
    ('pool = "lantern"', 'pool = "lantren"', None, 'did you mean "lantern"'),
    (FINISH, 'all = ["flame:2", "chim"]', 7, 'did you mean "chime"'),
    (FINISH, 'all = ["flam:2"]', 7, 'did you mean "flame"'),
    (FINISH, 'all = ["flame"]', 7, 'write "flame:2"'),
    (FINISH, "all = [3]", 7, "a list of affixes"),
    (FINISH, 'al = ["chime"]', 7, "not known"),
    (FINISH, 'any = [{ k = 3, of = ["chime", "ward"] }]', 7, "`k` is 3"),
    (FINISH, "free = { inlayed = 1 }", 7, 'did you mean "inlaid"'),
    (FINISH, "free = { inlaid = 2 }", 7, "there are 1"),
    (FINISH, 'all = ["steady flame", "dim flame"]', 6, "both of the group 'flame'"),
    (FINISH, 'all = ["chime", "bright lens"]', 6, "weight 0, and no step places it"),
    (FINISH, 'all = ["tide song"]', 6, "set 'hidden', which no step draws from"),
    (FINISH, 'all = ["flame:2", "ward", "seam"]', 6, "3 slots of 'etched' are wanted"),
    (FINISH, 'all = ["flame:2", "ward"]\nfree = { etched = 1 }', 6, "3 slots of 'etched'"),
    (FINISH, 'all = ["chime"]\nnone = ["chime"]', 6, "`none` forbids 'chime'"),
    (FINISH, 'any = [{ k = 2, of = ["chime", "tide song"] }]', 6, "2 of 2 cannot be together"),
    (DRAW, 'effect = { redrawn = "all" }', 17, "did you mean \"redraw\""),
    (DRAW, 'effect = { redraw = "all", add = 1 }', 17, "`redraw` and `add`"),
    (DRAW, 'effect = { redraw = "all", kind = "etched" }', 17, "not known"),
    (DRAW, 'effect = { redraw = "etchd" }', 17, 'did you mean "etched"'),
    (DRAW, 'effect = { redraw = "etched" }', 17, "does not say how many"),
    (DRAW, 'effect = { redraw = "all", count = { 1 = 0 } }', 17, "only weights of zero"),
    (DRAW, 'effect = { redraw = "all", set = "hiden" }', 17, 'did you mean "hidden"'),
    (DRAW, "effect = { add = 0 }", 17, "1 or more"),
    (DRAW, 'effect = { place = "bright lense" }', 17, 'did you mean "bright lens"'),
    (DRAW, 'effect = { clear = "nothing" }', 17, "unknown affix"),
    (DRAW, 'effect = { choose = 2, decline = "no" }', 17, "true or false"),
    (DRAW, 'effect = { join = [] }', 17, "names no affix"),
    (DRAW, 'effect = { join = ["chime", "bright lens"] }', 17, "only 1 inlaid fit"),
    (DRAW, 'effect = { join = ["chime"], frame = "third" }', 17, "first, second or either"),
    (DRAW, 'effect = { join = ["chime"], other = "empty table" }', 17, "first frame stays"),
    ("put = []", 'put = ["steady flame", "dim flame"]', 12, "both of the group"),
    ("put = []", 'put = ["ward", "ward"]', 12, "twice"),
    ("put = []", 'put = ["ward", "seam", "dim flame"]', 12, "only 2 etched fit"),
    ("put = []", "", 8, "leads nowhere|starts without one"),
    ('to = "empty table"', 'to = "empty tabel"', 21, 'did you mean "empty table"'),
    ('to = "empty table"', "", 18, "does nothing"),
    (TO, TO + "\neffect = { add = 1 }", 22, "both `effect` and `to`"),
    ("when = {}\n" + TO, 'when = { all = ["tide song"] }\n' + TO, 20, "`when` cannot be met"),
]  # fmt: skip


@pytest.mark.parametrize(("sound", "faulty", "line", "words"), ROUTE_FAULTS)
def test_route_file(tmp_path, sound, faulty, line, words):
    assert sound in ROUTE
    told = refusal(tmp_path, route=ROUTE.replace(sound, faulty, 1))
    if line is not None:
        assert told.startswith(f"routes/evening.toml, line {line}"), told
    assert any(each in told for each in words.split("|")), told


def step(effect, when="{}"):
    return f'[[step]]\nname = "try"\nwhen = {when}\nuses = {{ salt = 1 }}\neffect = {effect}\n'


def test_trait_and_level_are_named(tmp_path):
    route = ROUTE.replace('"flame:2"', '"steady flame"')
    told = refusal(tmp_path, route=route.replace('base = "lantern frame"', 'base = "river frame"'))
    assert "needs the trait 'brass', which 'river frame' has not" in told
    told = refusal(tmp_path, route=route.replace("item_level = 60", "item_level = 39"))
    assert "drawn from item level 40 on, not at 39" in told


def test_an_effect_that_no_piece_allows(tmp_path):
    none_left = step('{ add = 1, kind = "inlaid" }', '{ free = { inlaid = 1 }, all = ["chime"] }')
    told = refusal(tmp_path, route=ROUTE + none_left)
    assert told.startswith("routes/evening.toml, line 24, step 'try': `when` cannot be met")
    assert "2 slots of 'inlaid' are wanted" in told
    hidden_only = step('{ clear = "bright lens" }')
    told = refusal(tmp_path, route=ROUTE + hidden_only)
    assert "line 24, step 'try': can be used on no piece" in told


def test_a_place_that_misses_a_trait(tmp_path):
    route = ROUTE.replace('base = "lantern frame"', 'base = "river frame"')
    told = refusal(tmp_path, route=route + step('{ place = "steady flame" }'))
    assert "'steady flame' does not fit: it needs the trait 'brass'" in told


def test_a_pot_size_without_survivors(tmp_path):
    told = refusal(tmp_path, route=ROUTE + step('{ join = ["ward"] }'))
    assert "3 affixes of one kind can lie in the pot" in told
    assert "line 26, step 'try'" in told


def test_a_finish_that_no_step_reaches(tmp_path):
    route = ROUTE.replace(DRAW, 'effect = { redraw = "all", count = { 1 = 1 } }')
    assert "no piece that the steps can make meets [finish]" in refusal(tmp_path, route=route)


def test_a_stage_that_reads_like_a_piece(tmp_path):
    route = ROUTE.replace('"empty table"', '"flame 2 or better, chime"')
    assert "reads like a piece" in refusal(tmp_path, route=route)


def test_a_grade_without_a_want(tmp_path):
    told = refusal(tmp_path, route=ROUTE + '[[grade]]\nitem = "plain lantern"\n')
    assert "the grade says nothing" in told


def test_grades_are_checked_like_wants(tmp_path):
    told = refusal(tmp_path, route=ROUTE + '[[grade]]\nitem = "x"\nall = ["tide song"]\n')
    assert "the grade 'x' cannot be met" in told


def test_no_such_pool_names_the_nearest(tmp_path):
    (tmp_path / "lantern.toml").write_text(POOL)
    assert find_pool(tmp_path, "Lantern").name == "lantern"
    with pytest.raises(BadInput, match="did you mean"):
        find_pool(tmp_path, "lanten")


def test_base_of_another_name(tmp_path):
    with pytest.raises(RouteFault, match="no base 'kite'"):
        read_pool_text(tmp_path, POOL).base_of("kite")
