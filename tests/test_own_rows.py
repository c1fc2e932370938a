"""Rows of one's own, in files beside the build: ours stay, a build's own serve everywhere, and what stands on them says so."""

import concurrent.futures
import csv
import importlib
import io
import pickle

import pytest

from aquaplumb import load, tables
from aquaplumb.build import own_rows
from aquaplumb.plumbing import pipe_sizes
from aquaplumb.review import review, yours
from aquaplumb.review.sweep import sweep
from aquaplumb.system.steady import Steady
from aquaplumb.units import DesignError
from aquaplumb.workshop.cut_list import cut_list
from aquaplumb.workshop.parts import parts_list
from aquaplumb.workshop.sheet import sheet


def file_like(table, *rows):
    """A file's text with the header of ours, and rows like one of ours but for (name like, own name, {column: cell})."""
    ours = list(csv.reader((tables.folder("data") / f"{table}.csv").read_text(encoding="utf-8").splitlines()))
    words = [head.split(" [")[0] for head in ours[0]]
    out = io.StringIO()
    written = csv.writer(out)
    written.writerow(ours[0])
    for like, name, changed in rows:
        cells = list(next(row for row in ours if row[0] == like))
        cells[0] = name
        for column, cell in changed.items():
            cells[words.index(column)] = cell
        written.writerow(cells)
    return out.getvalue()


FILES = {
    "species": file_like("species", ("Nile tilapia", "my tilapia", {"oxygen critical": "3.3"})),
    "crops": file_like("crops", ("lettuce", "my salad", {"spacing typical": "20"})),
    "media": file_like("media", ("expanded clay 8-16 mm", "my clay", {"surface typical": "310"})),
    "fittings": file_like("fittings", ("elbow 90", "my bend", {"k typical": "1.2"})),
    "pipes": file_like(
        "pipes",
        ("PN16 40 mm", "my hose 40", {"standard": "my hose", "bore minimum wall": "31"}),
        *((f"PN16 {size} mm", f"my hose {size}", {"standard": "my hose"}) for size in (20, 25, 32, 50, 63, 75)),
    ),
    "airpumps": file_like("airpumps", ("demo mains 35 W air pump", "my air pump", {"middle flow": "50"})),
    "airstones": file_like("airstones", ("large air stone 100 mm", "my stone", {"transfer typical": "2.2"})),
}
SWAPS = {
    "species": ('species = "Nile tilapia"', 'species = "my tilapia"'),
    "crops": ('crop = "lettuce"', 'crop = "my salad"'),
    "media": ('medium = "expanded clay 8-16 mm"', 'medium = "my clay"'),
    "fittings": ('"elbow 90"', '"my bend"'),
    "pipes": ('[pipe]\nstandard = "PN16" ', '[pipe]\nstandard = "my hose" '),
    "airpumps": ('pump = "demo mains 35 W air pump"', 'pump = "my air pump"'),
    "airstones": ('stone = "large air stone 100 mm"', 'stone = "my stone"'),
}


def own_build(folder, *which, files=FILES):
    """The courtyard with rows of its own from files beside it."""
    text = load("courtyard").text
    for table in which:
        (folder / f"my-{table}.csv").write_text(files[table], encoding="utf-8")
        old, new = SWAPS[table]
        assert old in text, table
        text = text.replace(old, new)
    section = "\n".join(f'{table} = "my-{table}.csv"' for table in which)
    path = folder / "mine.toml"
    path.write_text(text.replace("[site]", f"[own]\n{section}\n\n[site]", 1), encoding="utf-8")
    return load(path)


# take-offs and sockets change pieces of pipe, and nothing that a review reckons: see test_pieces
WITHOUT_PIPE = [table for table in own_rows.TABLES if table not in ("pipes", "takeoffs", "sockets")]


@pytest.mark.parametrize("table", WITHOUT_PIPE)
def test_a_row_of_ones_own_serves_and_its_numbers_say_yours(tmp_path, table):
    seen, ours = review(own_build(tmp_path, table)), review("courtyard")
    marked = {name for name, r in seen.results.items() if r.yours}
    assert marked, f"nothing stands on {table}"
    assert all(seen[name].source.startswith(f"yours (my-{table}.csv); ") for name in marked)
    for name, r in seen.results.items():  # a number that differs from that of the same build with our row stands on the row
        if name in ours.results and abs(r.value - ours[name].value) > 1e-6 * abs(r.value):
            assert name in marked, name
    assert ", yours" in str(seen) and f"stand on what you wrote in my-{table}.csv" in str(seen)
    assert not any(r.yours for r in ours.results.values()) and "yours" not in str(ours)


def test_what_does_not_stand_on_it_is_not_marked(tmp_path):
    marked = {name for name, r in review(own_build(tmp_path, "crops")).results.items() if r.yours}
    assert "beds.plants" in marked or "beds.area needed" in marked
    assert not {"fish.feed", "fish.biomass", "line riser.flow"} & marked
    marked = {name for name, r in review(own_build(tmp_path, "fittings")).results.items() if r.yours}
    assert "line riser.flow" in marked and "fish.feed" not in marked


STOCK = 'species = "my tilapia"\ncount = 30\nbody_mass = "300 g"\nprotein = "32 %"\n'
SEASON = '[season]\ntemperature = { January = "20 degC", July = "27 degC" }\n'


@pytest.mark.parametrize(
    "section",
    [
        f'[stocks.mine]\n{STOCK}feeding_rate = "1.2 %/d"\n',
        f'{SEASON}[season.stocks.mine]\n{STOCK}arrives = "1 April"\nleaves = "31 October"\n',
    ],
    ids=["stocks", "a season's stocks"],
)
def test_any_stock_may_be_of_a_species_of_ones_own(tmp_path, section):
    """Its critical oxygen is its own row's 3.3 mg/L."""
    build = own_build(tmp_path, "species", "crops")
    text = build.text
    build.path.write_text(text[: text.index("[fish]")] + section + text[text.index("[plants]") :], encoding="utf-8")
    seen = review(load(build.path))
    assert seen.system.air.critical == pytest.approx(3.3e-3) and seen["air.critical"].yours
    assert "my tilapia" in str(seen) and seen["beds.plants"].yours and not seen["beds.area"].yours


def test_a_year_does_not_stand_on_a_row_that_moves_none_of_it(tmp_path):
    build = own_build(tmp_path, "crops")
    text = build.text
    build.path.write_text(text.replace("[plants]", f"{SEASON}\n[plants]", 1), encoding="utf-8")
    marked = {name for name, r in review(load(build.path)).results.items() if r.yours}
    assert "beds.plants" in marked and not {"season July.fish", "season July.feed", "fish.feed"} & marked


def test_the_sheet_says_yours_beside_the_source(tmp_path):
    made = sheet(own_build(tmp_path, "species", "media"), designs=50)
    rows = [row for row in made.grid("sources").rows if row[-1].startswith("yours (my-species.csv, my-media.csv)")]
    assert rows and "my tilapia" in str(made.grid("decisions").rows) and "my clay" in str(made.grid("decisions").rows)


def test_pipe_of_ones_own_goes_by_its_standard_with_its_sizes(tmp_path):
    (tmp_path / "my-pipes.csv").write_text(FILES["pipes"], encoding="utf-8")
    text = load("courtyard").text.replace("[site]", '[own]\npipes = "my-pipes.csv"\n\n[site]', 1)
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    first = load(path)
    line = next(iter(first.pumped))
    stretch = first.pumped[line].si.pipe[0].si.name
    mine = first.changed({("lines", line, "pipe", stretch, "standard"): "my hose", ("lines", line, "pipe", stretch, "size"): "40 mm"})
    piece = mine.pumped[line].si.pipe[0].si
    assert piece.bore == pytest.approx(0.031) and pipe_sizes.sizes(piece.standard)[2:4] == ["32 mm", "40 mm"]
    assert pipe_sizes.next_size("30 mm", piece.standard) == "40 mm"
    mine = mine.keep({})
    assert "my hose" not in pipe_sizes.standards() and "my hose" not in tables.names("pipes")
    with pytest.raises(DesignError, match="my hose has 20 mm, 25 mm, 32 mm, 40 mm"):
        first.changed({("lines", line, "pipe", stretch, "standard"): "my hose", ("lines", line, "pipe", stretch, "size"): "90 mm"})
    with pytest.raises(DesignError, match="pipe table has no 'my hose'"):
        load("courtyard").changed({("lines", line, "pipe", stretch, "standard"): "my hose"})


def test_two_builds_with_other_rows_of_one_name_know_nothing_of_each_other(tmp_path):
    folders = [tmp_path / "one", tmp_path / "other"]
    made = []
    for folder, spacing in zip(folders, ("20", "10")):
        folder.mkdir()
        files = {"crops": file_like("crops", ("lettuce", "my salad", {"spacing low": "5", "spacing typical": spacing}))}
        made.append(own_build(folder, "crops", files=files))
    with concurrent.futures.ThreadPoolExecutor(4) as many:
        plants = list(many.map(lambda build: Steady(build).beds.plants, made * 4))
    assert plants[0] == pytest.approx(2 * plants[1]) and plants[2:] == plants[:2] * 3
    assert made[0].plants.crop != made[1].plants.crop and made[0].plants.crop == "my salad" == made[1].plants.si.crop.strip()


def test_it_goes_through_keep_copies_and_other_processes(tmp_path):
    build = own_build(tmp_path, *WITHOUT_PIPE)
    kept = build.keep({("fish", "density"): "10 kg/m3"})
    assert kept.fish.species == "my tilapia" and tables.row("species", kept.fish.species).basis == "yours"
    again = pickle.loads(pickle.dumps(build))
    assert again.fish.si.species == build.fish.si.species and tables.row("species", again.fish.species).oxygen_critical.m_as("mg/L") == 3.3
    other = build.replaced(fish=build.fish.replace(density="5 kg/m3"))
    assert Steady(other).stocks["fish"].species.name == "my tilapia"
    here = sweep(build, None, 300, seed=1)
    with concurrent.futures.ProcessPoolExecutor(1) as workers:
        there = sweep(build, None, 300, seed=1, executor=workers)
    assert here.chances == there.chances


def test_sliders_offer_ones_own_beside_ours(tmp_path):
    build = own_build(tmp_path, "species", "crops", "media", "airpumps")
    for page, control, name in (("fish_load", "species", "my tilapia"), ("beds_media", "medium", "my clay"), ("beds_media", "crop", "my salad"),
                                ("night_air", "pump", "my air pump")):  # fmt: skip
        module = importlib.import_module(f"aquaplumb.whatif.{page}")
        model = next(
            one for one in vars(module).values() if isinstance(one, type) and getattr(one, "page", "") and one.__module__ == module.__name__
        )(build)
        choice = next(one for one in model.controls() if one.name == control)
        options = choice.options.values() if isinstance(choice.options, dict) else choice.options
        assert name in list(options), (page, control)


def test_a_pump_file_is_yours_too(tmp_path):
    points = (tables.folder("data") / "pumps" / "mains-120-w-submersible.csv").read_text(encoding="utf-8")
    (tmp_path / "mine.csv").write_text(points, encoding="utf-8")
    path = tmp_path / "mine.toml"
    path.write_text(load("courtyard").text.replace('pump = "demo mains 120 W submersible"', 'pump_file = "mine.csv"'), encoding="utf-8")
    seen = review(load(path))
    assert yours.files(seen.build) == ["mine.csv"] and seen["line riser.flow"].yours and not seen["beds.area"].yours


def test_the_shed_can_build_with_pipe_of_ones_own_and_with_every_standard(tmp_path):
    build = own_build(tmp_path, "pipes")
    cuts = cut_list(build)
    assert any(one.si.standard == "my hose" and one.si.stock == 5.0 for one in cuts) and cut_list(build, stock={"my hose": "3 m"})
    assert any("my hose" in part.size for part in parts_list(build).parts)
    for standard in pipe_sizes.standards():
        size = pipe_sizes.sizes(standard)[2]
        line = next(iter(build.pumped))
        first = build.pumped[line].si.pipe[0].si.name
        other = load("courtyard").changed(
            {("lines", line, "pipe", first, "standard"): standard, ("lines", line, "pipe", first, "size"): size}
        )
        made = parts_list(other)
        row = pipe_sizes.pipe_size(size, standard).si
        assert any(f"{size} {standard}" in part.size for part in made.parts), standard
        assert any("not cemented" in note and standard in note for note in made.notes) == (row.joined_by != "cement"), standard


# --- what is refused, in a sentence ---------------------------------------------------------------------


def without(text, column):
    """The file without one column."""
    rows = list(csv.reader(text.splitlines()))
    at = [head.split(" [")[0] for head in rows[0]].index(column)
    out = io.StringIO()
    csv.writer(out).writerows([[cell for i, cell in enumerate(row) if i != at] for row in rows])
    return out.getvalue()


SPECIES = FILES["species"]


@pytest.mark.parametrize(
    ("table", "text", "words"),
    [
        ("species", without(SPECIES, "best low"), r"my-species.csv has no column 'best low \[°C\]', which data/species.csv has; .*such as 27"),
        ("species", without(SPECIES, "note"), None),
        ("species", without(without(SPECIES, "basis"), "source"), None),
        ("species", SPECIES.replace("my tilapia", "Nile Tilapia"), "line 2: 'Nile Tilapia' has a name that ours has; .*'my Nile Tilapia'"),
        ("species", SPECIES + SPECIES.splitlines()[1], "line 3: 'my tilapia' is there already, in line 2"),
        ("species", SPECIES.replace("my tilapia,", ","), "the name is blank; write one, such as 'my species'"),
        ("species", file_like("species", ("Nile tilapia", "x", {"survive high": ""})), r"'survive high \[°C\]' of x is blank.*such as 36"),
        ("species", file_like("species", ("Nile tilapia", "x", {"condition": ""})), None),
        ("species", file_like("species", ("Nile tilapia", "x", {"survive high": "20"})), "best high is over survive high"),
        ("species", file_like("species", ("Nile tilapia", "x", {"feeding curve": "hot"})), "list of words for feeding curve has no 'hot'; it has warm, cold"),
        ("species", file_like("species", ("Nile tilapia", "x", {"best low": "2,7"})), "line 2: best_low: .*comma"),
        ("species", SPECIES.replace("latin name", "colour"), "header of data/species.csv has no 'colour'"),
        ("species", SPECIES.replace(",", ";"), "parted by semicolons"),
        ("species", "", "it is empty"),
        ("species", SPECIES.splitlines()[0], "has a header but no row under it; write one row for each species of yours"),
        ("species", "\0", "not plain text"),
        ("media", file_like("media", ("bioballs", "x", {"void high": "1.2"})), "void high is 1.2 of a whole"),
        ("media", file_like("media", ("bioballs", "x", {"surface low": "-3"})), "surface low is -3 .*less than nothing"),
        ("fittings", file_like("fittings", ("elbow 90", "x", {"group": "bendy"})), "list of words for group has no 'bendy'"),
        ("fittings", file_like("fittings", ("elbow 90", "x", {"k low": "2"})), "k low is over k typical"),
        ("pipes", file_like("pipes", ("PN16 40 mm", "my pipe", {})), "standard 'PN16' is one of ours.*'my PN16'"),
        ("pipes", file_like("pipes", ("PN16 40 mm", "x", {"standard": "hose", "size": "wide"})), "size 'wide' is no size"),
        ("pipes", file_like("pipes", ("PN16 40 mm", "x", {"standard": "hose"}), ("PN16 40 mm", "y", {"standard": "hose"})), "hose has 40 mm already"),
        ("pipes", file_like("pipes", ("PN16 40 mm", "x", {"standard": "hose", "pressure rating": ""})), "pressure rating is blank"),
        ("airpumps", file_like("airpumps", ("demo mains 4 W air pump", "x", {"supply": "steam"})), "list of words for supply has no 'steam'"),
        ("airpumps", file_like("airpumps", ("demo mains 4 W air pump", "x", {"open flow": "1"})), "flow falls as the pressure rises"),
    ],
)  # fmt: skip
def test_a_wrong_file_gets_one_sentence(tmp_path, table, text, words):
    (tmp_path / f"my-{table}.csv").write_text(text, encoding="utf-8")
    path = tmp_path / "mine.toml"
    path.write_text(load("courtyard").text.replace("[site]", f'[own]\n{table} = "my-{table}.csv"\n\n[site]', 1), encoding="utf-8")
    if words is None:
        assert load(path).own[table]
        return
    with pytest.raises(DesignError, match=words) as refused:
        load(path)
    assert str(refused.value).startswith(f"mine.toml, line 9: own › {table}: ") and "\n" not in str(refused.value)


def test_a_wrong_section_gets_one_sentence(tmp_path):
    for line, words in (('fish = "x.csv"', "section has no 'fish'; did you mean"), ("species = 3", 'species = "my-species.csv"'),
                        ('species = "gone.csv"', "there is no file of your own rows")):  # fmt: skip
        path = tmp_path / "mine.toml"
        path.write_text(load("courtyard").text.replace("[site]", f"[own]\n{line}\n\n[site]", 1), encoding="utf-8")
        with pytest.raises(DesignError, match=words):
            load(path)
