"""Rafts, film channels, towers and the crops in them: what they hold, feed and turn, against print and geometry."""

import re

import numpy as np
import pytest

from aquaplumb import DesignError, tables, u
from aquaplumb.build import load
from aquaplumb.build.vessels import GROWING, Vessel, plan_area, water_depth, water_volume
from aquaplumb.fish import beds, living
from aquaplumb.review import readings, review
from aquaplumb.system.flow_tables import Network
from aquaplumb.system.steady import Steady
from aquaplumb.whatif import beds_media, fish_load
from growing_builds import BEDS, CHANNELS, NO_MEDIA, RAFTS, TOWERS, courtyard, filtered

DAY = 86400.0
KINDS = {"raft": RAFTS, "channel": CHANNELS, "tower": TOWERS}


def channel(**more):
    usual = {"length": "4 m", "width": "10 cm", "height": "8 cm", "slope": 0.03, "count": 6}
    return Vessel(name="film", kind="channel", shape="rectangular", floor="0.9 m", **{**usual, **more})


# --- published ----------------------------------------------------------------------------------


def test_feed_of_rafts_and_film_as_rakocy_prints_it():
    # Rakocy 2007, Ten guidelines (read): "60 to 100 g/m2/day" on rafts; film "roughly 25 % of the ratio used for a raft system"
    raft, film = (beds.feed_per_area("lettuce", grown_in=kind) for kind in ("raft", "channel"))
    assert (raft.low.m_as("g/m²/d"), raft.high.m_as("g/m²/d")) == pytest.approx((60, 100))
    assert (film.low.m_as("g/m²/d"), film.typical.m_as("g/m²/d")) == pytest.approx((15, 0.25 * 80))
    # Endut et al. 2010 (abstract read): water spinach in a film, best at 15 to 42 g/m²/d
    assert film.low.m_as("g/m²/d") == pytest.approx(15) and film.high.m_as("g/m²/d") > 42


@pytest.mark.parametrize("crop", ["lettuce", "tomato"])
def test_feed_of_beds_is_the_crops_own(crop):
    row = tables.row("crops", crop)
    assert beds.feed_per_area(crop).typical == row.feed_per_area_typical
    assert beds.feed_per_area(crop, grown_in="channel").high.m >= row.feed_per_area_high.m  # FAO 589 gives film the bed's band


def test_rafts_turn_what_print_has_them_turn():
    # FAO 589 §4.5 (from memory): 1 to 1.5 kg of fish on a square metre without a filter; at 1 %/d of 32 % feed: 0.29 to 0.44 g N/m²/d.
    # Rakocy 2007 (read): 60 to 100 g/m²/d of feed in the UVI system, 3 % of it ammonia N (Timmons and Ebeling, rule): 1.8 to 3 g/m²/d.
    surface = living.raft_surface(1.0 * u.m**2, 0.5 * u.m**2)  # a UVI trough is 1.2 m wide and 0.3 m deep: 2 · 0.3 / 1.2 m² of walls
    rate = beds.nitrification_rate(28 * u.degC)
    turned = {band: (getattr(surface, band) * getattr(rate, band)).m_as("g/d") for band in ("low", "typical", "high")}
    assert turned["low"] < 0.44 < (surface.low * rate.typical).m_as("g/d") * 1.25
    assert 1.8 < turned["typical"] < 3.0 < turned["high"]


# --- geometry -------------------------------------------------------------------------------------


def test_the_wedge_of_water_at_the_foot_of_a_channel():
    # by hand: six wedges 0.1 m wide, 12 mm deep at the foot and 12/0.03 = 400 mm long: 6 · 0.1 · 0.4 · 0.012 / 2 = 1.44 L
    assert water_volume(channel(), "12 mm").m_as("L") == pytest.approx(1.44)
    # from 4 m · 0.03 = 120 mm on it would be a prism; this one ends at its walls of 80 mm: 6 · 0.1 · (80/0.03) · 80 / 2 mm³
    assert water_volume(channel(), "80 mm").m_as("L") == pytest.approx(64.0)
    deep = channel(height="30 cm")
    assert water_volume(deep, "30 cm").m_as("L") == pytest.approx(1000 * 6 * 0.4 * (0.3 - 0.06))


@pytest.mark.parametrize("vessel", [channel(), channel(height="30 cm"), channel(slope=0.0), channel(height="12 cm")], ids=str)
def test_depth_and_volume_are_inverse(vessel):
    depths = np.linspace(0, vessel.si.height, 33)
    assert water_depth.si(vessel, water_volume.si(vessel, depths)) == pytest.approx(depths, abs=1e-12)


@pytest.mark.parametrize("kind", KINDS)
def test_the_network_knows_the_same_depths_and_their_slopes(kind):
    build = courtyard(KINDS[kind])
    net = Network(build)
    vessels = list(build.vessels.values())
    for part in (0.003, 0.1, 0.5, 0.98):
        volume = part * net.full
        depth, give = net.depths(volume)
        for i, v in enumerate(vessels):  # of a channel or tower, what is on its way is in the volume too
            assert net.holds(i, depth[i]) == pytest.approx(volume[i])
            assert i in net.filmed or depth[i] == pytest.approx(water_depth.si(v, volume[i]))
        step = 1e-6 * net.full
        assert give == pytest.approx((net.depths(volume + step)[0] - depth) / step, rel=1e-4)


def test_several_alike_are_one_vessel_so_many_times():
    one, six = (channel(count=n) for n in (1, 6))
    assert plan_area.si(six) == pytest.approx(6 * plan_area.si(one))
    assert water_volume.si(six, 0.05) == pytest.approx(6 * water_volume.si(one, 0.05))


# --- crops ----------------------------------------------------------------------------------------


def test_a_crop_for_each_and_two_by_share():
    mixed = {("vessels", "bed 1", "crop"): "tomato", ("vessels", "bed 2", "crop"): {"lettuce": "60 %", "basil": "40 %"}}
    b = Steady(load("courtyard").changed(mixed)).beds
    row = {name: tables.row("crops", name).si for name in ("tomato", "lettuce", "basil")}
    one, two = b.each["bed 1"], b.each["bed 2"]
    assert one.plants == pytest.approx(2.2 * row["tomato"].spacing_typical)
    assert two.plants == pytest.approx(2.2 * (0.6 * row["lettuce"].spacing_typical + 0.4 * row["basil"].spacing_typical))
    # the feed that both use on their areas is what the feed supports: 65 and 45 g/m²/d (FAO 589 §8.1) on equal areas are 55
    assert b.feed_per_area * DAY * 1e3 == pytest.approx(55)
    assert b.crops == ("tomato", "lettuce", "basil")
    assert "tomato, lettuce, basil" in str(review(load("courtyard").changed(mixed)))


def test_what_plants_says_of_area_holds_for_its_own_crop_only():
    base = load("courtyard")
    assert Steady(base).beds.each["bed 1"].feed_per_area["typical"] * DAY * 1e3 == pytest.approx(45)
    own = base.changed({("vessels", "bed 1", "crop"): "tomato", ("vessels", "bed 2", "feed_per_area"): "30 g/m2/d"})
    each = Steady(own).beds.each
    assert each["bed 1"].feed_per_area["typical"] * DAY * 1e3 == pytest.approx(65)
    assert each["bed 2"].feed_per_area["typical"] * DAY * 1e3 == pytest.approx(30)


def test_sites_are_counted_in_each_of_several():
    towers = Steady(courtyard(TOWERS)).beds.each["bed 1"]
    assert towers.plants == 8 * 6
    assert towers.area == pytest.approx(48 / tables.row("crops", "lettuce").si.spacing_typical)
    rafts = Steady(courtyard(RAFTS)).beds.each["bed 1"]
    assert (rafts.plants, rafts.area) == (45, pytest.approx(2.2))


# --- words ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_the_review_names_what_there_is(kind):
    seen = review(courtyard(KINDS[kind]))
    assert f"of {kind}s;" in seen.so_far
    told = str(seen).replace("Invented for the demo: one pump in a sunken sump feeds a fish tank and two beds; everything falls back.", "")
    assert not re.search(r"\bbeds\b", told.replace("to beds", "")), re.search(r".*\bbeds\b.*", told)[0]


def test_several_kinds_are_named_together():
    both = {key: value for key, value in RAFTS.items() if "bed 2" not in key[1]}
    assert Steady(courtyard(both)).beds.words == "rafts and beds"


# --- door -----------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("where", "value", "said"),
    [
        (("vessels", "sump", "crop"), "lettuce", "sump is a sump, where nothing grows"),
        (("vessels", "bed 1", "crop"), "letuce", "did you mean lettuce"),
        (("vessels", "bed 1", "crop"), {"lettuce": "60 %", "basil": "50 %"}, "together they make 100 %"),
        (("vessels", "bed 1", "crop"), {}, "one crop in quotes"),
        (("vessels", "bed 1", "crop"), 7, "one crop in quotes"),
        (("vessels", "bed 1", "crop"), {"lettuce": True}, "lettuce"),
        (("vessels", "bed 1", "slope"), "2 %", "only a channel has a slope"),
        (("vessels", "bed 1", "count"), 1.5, "a whole number"),
        (("vessels", "bed 1", "sites"), 0.5, "bed 1 › sites: 0.5 is below 1, the least for the plants in one vessel"),
        (("vessels", "bed 1", "kind"), "raft", "boards over open water"),
        (("vessels", "bed 1", "kind"), "tower", "sites = 8"),
        (("vessels", "bed 1", "working_depth"), None, "working_depth is missing"),
        (("vessels", "bed 1", "kind"), "gully", "channel"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(where, value, said):
    with pytest.raises(DesignError, match=re.escape(said)) as refused:
        load("courtyard").changed({where: value})
    assert str(refused.value).count("\n") == 0


def test_an_unknown_place_to_grow_is_refused():
    with pytest.raises(DesignError, match="raft"):
        beds.feed_per_area("lettuce", grown_in="rafts")


def test_every_kind_that_grows_has_a_word_and_a_number():
    for kind in GROWING:
        assert beds.feed_per_area.si("lettuce", grown_in=kind).si.typical > 0
    assert Steady(load("courtyard").changed(NO_MEDIA)).living.surface["typical"] == 0
    assert set(Steady(load("courtyard")).beds.each) == set(BEDS)


# --- page 02 ----------------------------------------------------------------------------------------


@pytest.mark.sweep(1)
@pytest.mark.parametrize("kind", KINDS)
def test_page_02_knows_what_holds_no_medium(kind, tmp_path):
    path = tmp_path / "my-build.toml"
    path.write_text(courtyard({**KINDS[kind], **filtered("moving bed", medium="moving-bed carrier 10 mm", media_volume="60 L")}).text)
    cut = beds_media.picture(load(path))
    assert cut.png().startswith(b"\x89PNG") and "media" not in cut.alt(cut.record)
    r = beds_media.outcome_of(load(path))
    system = Steady(load(path))
    assert r.words == f"{kind}s" and r.surface.m_as("m²") == pytest.approx(system.living.surface["typical"])
    assert (r.mass_box + r.mass_water).m_as("kg") == pytest.approx(system.full_mass(system.build.vessels[r.heavy]))
    panel = beds_media.panel(load(path))
    panel.set(length={"raft": "1.9 m", "channel": "3.5 m", "tower": "0.5 m"}[kind])
    assert "medium" not in panel.values
    panel._press_keep()
    assert panel.kept.startswith("✔"), panel.kept


def test_page_01_says_where_solids_end():
    for changes, words in ((RAFTS, "nothing takes out"), ({**RAFTS, **filtered("swirl")}, "for the filter"), ({}, "settle in the beds")):
        picture = fish_load.picture(courtyard(changes))
        assert words in picture.alt(picture.record)


def test_the_log_of_a_build_without_beds_says_none_of_them(tmp_path):
    path = tmp_path / "log.csv"
    rows = [f"2026-04-{day:02d},{0.2 + 0.03 * day:.2f},180,7,24" for day in range(1, 22)]
    path.write_text("\n".join(["date,ammonia [mg/L as N],feed [g],pH,temperature [degC]", *rows]), encoding="utf-8")
    log = readings.read(path)
    for made in (RAFTS, CHANNELS):
        build = courtyard(made)
        found = readings.biofilter(log, build)
        said = " ".join([*map(str, readings.actions(log, build)), found.text() if found else ""])
        assert "mmonia" in said and not re.search(r"\bbeds?\b", said), said


@pytest.mark.parametrize("units, said", [("US", "40 psf"), ("metric", "2 kN/m2")])
def test_the_floor_rating_to_write_is_in_the_builders_units(units, said):
    build = load("courtyard").changed({("site", "floor_rating"): None, "units": units})
    [f] = [f for f in review(build).findings if f.name == "load over floor rating"]
    assert f'floor_rating = "{said}"' in f.cure
    assert load("courtyard").changed({("site", "floor_rating"): said}).site.si.floor_rating == pytest.approx(
        2000, rel=0.05
    )  # 40 psf are 1.9 kN/m²
