"""An air pump or blower from a file of its maker's points, and the side-channel blowers of the table."""

import pytest

from aquaplumb import air, load, tables, u
from aquaplumb.air.air_pump_file import air_pump_of
from aquaplumb.review import review, yours
from aquaplumb.units import DesignError

FILE = "supply,mains\npower,250 W\nflow [m3/h],pressure [mbar]\n80,0\n55,60\n20,120\n"
OURS = 'pump = "demo mains 35 W air pump"'


def written(folder, text, name="my-blower.csv"):
    (folder / name).write_text(text, encoding="utf-8")
    return folder / name


def build_with(folder, text, key="pump_file"):
    written(folder, text)
    path = folder / "mine.toml"
    path.write_text(load("courtyard").text.replace(OURS, f'{key} = "my-blower.csv"'), encoding="utf-8")
    return load(path)


def test_its_flow_is_that_of_its_points_and_nothing_past_the_last(tmp_path):
    pump = air_pump_of(written(tmp_path, FILE)).rows[0]
    at = [air.air_pump_flow(pump, p * u.mbar).m_as("m³/h") for p in (0, 30, 60, 90, 120, 121)]
    assert at == pytest.approx([80, 67.5, 55, 37.5, 20, 0])  # straight lines between the points of the file, by hand
    assert (pump.name, pump.basis, pump.power.m_as("W")) == ("my-blower", "yours", 250)


def test_depth_of_water_stands_for_its_pressure(tmp_path):
    pump = air_pump_of(written(tmp_path, "power,35 W\nflow [L/min],depth [m]\n70,0\n45,1.5\n5,3\n")).rows[0]
    assert air.air_pump_flow(pump, "14.68 kPa").m_as("L/min") == pytest.approx(45, abs=0.1)  # 998.2 × 9.80665 × 1.5 Pa


def test_a_build_runs_on_it_and_says_yours(tmp_path):
    build = build_with(tmp_path, FILE.replace("80,0", "8,0").replace("55,60", "5.5,140").replace("20,120", "2,260"))
    seen = review(build)
    assert build.air.pump == "my-blower" and yours.files(build) == ["my-blower.csv"]
    assert seen["air.flow"].yours and seen["air.flow"].source.startswith("yours (my-blower.csv)") and not seen["fish.feed"].yours
    kept = build.keep({("fish", "density"): "10 kg/m3"})
    assert kept.air.pump == "my-blower" and tables.row("airpumps", kept.air.pump).si.flows


def test_its_own_list_is_chosen_from_for_a_cure(tmp_path):
    """The smallest air pump that does is named, one of the builder's own where that is the smallest."""
    ours = (tables.folder("data") / "airpumps.csv").read_text(encoding="utf-8").splitlines()
    small = (
        next(line for line in ours if line.startswith("demo battery 90 W"))
        .replace("demo battery 90 W air pump", "my thrifty pump")
        .replace(",12,90,", ",12,19,")
    )
    written(tmp_path, "\n".join([ours[0], small, ""]), "my-airpumps.csv")
    text = load("courtyard").text.replace("[site]", '[own]\nairpumps = "my-airpumps.csv"\n\n[site]', 1)
    text = "\n".join(line for line in text.splitlines() if not line.startswith("backup_"))
    path = tmp_path / "mine.toml"
    path.write_text(text, encoding="utf-8")
    with_own = [f.cure for f in review(load(path)).findings]
    assert any("my thrifty pump" in cure for cure in with_own)


@pytest.mark.parametrize("watts", [200, 400, 750])
def test_demo_blowers_do_no_more_work_than_they_draw(watts):
    """Air power Q p over what it draws: side-channel blowers reach some 25 to 45 % (from memory); none may pass 60 %."""
    row = tables.row("airpumps", f"demo mains {watts} W side-channel blower").si
    assert row.basis == "invented for the demo" and 0.1 < row.middle_flow * row.middle_pressure / row.power < 0.6


def test_a_blower_that_is_held_back_is_told_to_be_hot_and_a_pump_is_not():
    few = load("courtyard").changed({("air", "pump"): "demo mains 200 W side-channel blower"})
    told = next(f for f in review(few).findings if f.name == "air pump too weak for the depth")
    assert "overheats" in told.sentence and "relief valve" in told.cure
    many = few.changed({("air", "stones"): 60, ("air", "tube_bore"): "12 mm"})
    assert not any(f.name == "air pump too weak for the depth" for f in review(many).findings)
    small = review("small-air-pump-deep-barrel").finding("air pump too weak for the depth")
    assert "overheats" not in small.sentence and "relief valve" not in small.cure


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "has no table of points"),
        (FILE.replace("power,250 W\n", ""), "does not say what it draws; .*power,35 W"),
        (FILE.replace("mains", "steam"), "supply is 'steam'; write mains or battery"),
        (FILE.replace("mains", "battery"), "battery of unknown voltage; .*voltage,12 V"),
        (FILE.replace("55,60", "90,60"), "point 2: flow has to fall as the pressure rises"),
        (FILE.replace("55,60", "55,0"), "point 2: flow has to fall as the pressure rises"),
        (FILE.replace("55,60", "55"), "point 2: 1 cells where the header has 2"),
        (FILE.replace("55,60", "-5,60"), "point 2: flow is -5 m3/h"),
        (FILE.replace(" [mbar]", ""), "the column 'pressure' has no unit"),
        (FILE.replace("pressure [mbar]", "noise [dB]"), "form of an air pump file has no 'noise'"),
        (FILE.replace("pressure [mbar]", "power [W]"), "has flow, and pressure or depth, each once"),
        ("power,9 W\nflow [L/min],pressure [kPa]\n8,0\n", "has 1 point; two are the least"),
        (FILE.replace(",", ";"), "no table of points|parted by commas"),
    ],
)
def test_a_wrong_file_gets_one_sentence(tmp_path, text, words):
    with pytest.raises(DesignError, match=words) as refused:
        build_with(tmp_path, text)
    assert str(refused.value).startswith("mine.toml, line ") and "air › pump_file" in str(refused.value)


def test_a_pump_and_a_file_of_one_do_not_go_together(tmp_path):
    written(tmp_path, FILE)
    path = tmp_path / "mine.toml"
    path.write_text(load("courtyard").text.replace(OURS, f'{OURS}\npump_file = "my-blower.csv"'), encoding="utf-8")
    with pytest.raises(DesignError, match="stands in place of pump"):
        load(path)
    with pytest.raises(DesignError, match="there is no air pump file"):
        path.write_text(load("courtyard").text.replace(OURS, 'pump_file = "gone.csv"'), encoding="utf-8")
        load(path)
