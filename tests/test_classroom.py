"""A room of learners, without a server: who is let in, what is kept, what a kernel may touch, what a page may say to it."""

import asyncio
import json
import os
import subprocess
import sys
import uuid
from concurrent.futures import ThreadPoolExecutor

import pytest

pytest.importorskip("voila")

from jupyter_server.services.kernels.connection.base import serialize_msg_to_ws_v1

from aquaplumb.classroom import rendering, told
from aquaplumb.classroom.board import Board
from aquaplumb.classroom.pages import _Filtered, books
from aquaplumb.classroom.register import Doorkeeper, Register, good_name
from aquaplumb.classroom.running import run
from aquaplumb.questions import asked
from aquaplumb.questions import pump as pump_questions
from aquaplumb.units import DesignError


@pytest.fixture
def register(tmp_path):
    return Register(tmp_path / "room")


def test_a_learner_is_found_again_after_a_restart(register):
    ama = register.join("Ama K")
    register.show(ama, True)
    again = Register(register.folder)
    assert again.learners == register.learners and again.code == register.code and again.secret == register.secret
    assert again.known(ama.ident).shown and again.place(ama).is_dir()
    assert (again.place(ama) / "my-name.txt").read_text() == "Ama K\n"  # the questions know it


def test_what_signs_the_cookies_is_for_the_owner_alone(register):
    if os.name == "posix":
        assert (register.folder / ".room.json").stat().st_mode & 0o077 == 0
        register.join("Ama")
        assert (register.folder / ".room.json").stat().st_mode & 0o077 == 0


def test_two_of_one_name_are_told_apart_politely(register):
    first = register.join("Ama")
    with pytest.raises(DesignError, match="There is a Ama in the room already. Are you somebody else"):
        register.join(" ama ")
    assert register.join("Ama K").folder != first.folder
    assert register.join("AMA", first.number) is first
    with pytest.raises(DesignError, match="Nobody called Ama has that number"):
        register.join("Ama", "0000")


@pytest.mark.parametrize(
    "name, said",
    [
        ("x" * 300, "has 300 letters; 40 at most"),
        ("  ", "at least one letter"),
        ("<>!", "at least one letter"),
        ("\x00\n", "at least one letter"),
    ],
    ids=["300 letters", "blank", "signs", "control"],
)
def test_a_name_that_is_none_is_refused_in_a_sentence(register, name, said):
    with pytest.raises(DesignError, match=said):
        register.join(name)
    assert not register.learners and not [one for one in register.folder.iterdir() if one.is_dir()]


@pytest.mark.parametrize("name", ["../../etc/passwd", "<script>alert(1)</script>", "con", "Ää 水", ".hidden", "a/b\\c:d", "~root"])
def test_whatever_the_name_its_folder_lies_in_the_room(register, name):
    learner = register.join(name)
    assert register.place(learner).parent == register.folder
    assert set(learner.folder) <= set("abcdefghijklmnopqrstuvwxyz0123456789-")
    assert learner.name == good_name(name)


def test_on_a_full_disk_nobody_is_half_taken_in(register, monkeypatch):
    register.join("Ama")
    before = (register.folder / ".room.json").read_text()

    def full(*_arguments):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DesignError, match=r"can keep nothing for you just now: .*No space left on device.* nobody's build is lost"):
        register.join("Ben")
    assert [one.name for one in register.learners.values()] == ["Ama"] and (register.folder / ".room.json").read_text() == before


def test_a_list_of_learners_that_is_broken_is_not_written_over(tmp_path):
    (tmp_path / ".room.json").write_text('{"learners": [{"who": 1}]}')
    with pytest.raises(DesignError, match="Put it aside and start again"):
        Register(tmp_path)
    assert "who" in (tmp_path / ".room.json").read_text()


def test_a_guesser_of_codes_waits_longer_each_time():
    now = [0.0]
    door, waits = Doorkeeper("123456", lambda: now[0]), []
    for _ in range(12):
        assert not door.lets_in("10.0.0.9", "000000")
        waits.append(door.wait("10.0.0.9"))
        now[0] += waits[-1]
    assert waits[:3] == [0, 0, 0] and waits[3:6] == [1, 2, 4] and waits[-1] == 60
    door.wrong("10.0.0.9")
    with pytest.raises(DesignError, match=r"Wait 60 seconds"):
        door.lets_in("10.0.0.9", "123456")  # not even looked at
    assert door.lets_in("10.0.0.8", "123 456") and door.wait("10.0.0.8") == 0


def test_many_devices_cannot_guess_together():
    now = [0.0]
    door, tried = Doorkeeper("123456", lambda: now[0]), 0
    for device in range(500):
        now[0] += 0.1
        try:
            door.lets_in(f"10.0.0.{device}", "000000")
            tried += 1
        except DesignError:
            pass
    assert tried <= 70  # in 50 s: sixty in a minute, of 900,000 codes


def test_the_code_is_another_on_another_day_and_guesses_are_forgotten(register):
    ama = register.join("Ama")
    told.listen(register.place(ama), "08")
    try:
        question = pump_questions.guess()
        question.reply("hardly anything")
        question.reply("about seven tenths")  # after the picture: no vote
    finally:
        asked.LISTENERS.clear()
    assert told.guesses(register.place(ama)) == {"08": "hardly anything"}
    assert Board(Register(register.folder)).votes() == {"08": {"hardly anything": 1}}
    kept = json.loads((register.folder / ".room.json").read_text())
    (register.folder / ".room.json").write_text(json.dumps({**kept, "day": "2020-01-01"}))
    assert Board(Register(register.folder)).votes() == {}


def test_a_build_is_lent_only_where_its_learner_said_yes(register):
    ama, board = register.join("Ama"), Board(register)
    (register.place(ama) / "my-build.toml").write_text("# hers")
    with pytest.raises(DesignError, match="has not said yes"):
        board.lend(ama)
    register.show(ama, True)
    board.opened(ama, "06")
    assert board.lend(ama) == books()["06"]
    desk = register.place(register.desk)
    assert sorted(one.name for one in desk.iterdir()) == ["my-build.toml"]
    (desk / "my-build.toml").write_text("# spoilt")
    assert (register.place(ama) / "my-build.toml").read_text() == "# hers"


def test_saved_votes_have_no_names_and_run_nothing(register):
    ama = register.join("Ama")
    (register.place(ama) / told.FILE).write_text(json.dumps({"08": "=1+1"}))
    said = Board(register).save()
    table = (register.folder / said.split(": ")[1].split(",")[0]).read_text()
    assert "'=1+1,1" in table and "Ama" not in table


@pytest.mark.parametrize("port", [-1, 65536, 10**9])
def test_a_port_that_is_none_is_refused_in_a_sentence(tmp_path, port):
    with pytest.raises(DesignError, match="is no port to listen on"):
        run(tmp_path / "room", port=port)
    assert not (tmp_path / "room").exists()


def test_the_rooms_folder_cannot_be_a_file(tmp_path):
    (tmp_path / "room").write_text("mine")
    with pytest.raises(DesignError, match="cannot be used.*Name another folder"):
        run(tmp_path / "room")
    assert (tmp_path / "room").read_text() == "mine"


# --- whose turn it is ---------------------------------------------------------------------------------------


def played_out(work):
    """In a thread of its own: where browser tests have run before, this one has an event loop already."""
    with ThreadPoolExecutor(1) as aside:
        aside.submit(asyncio.run, asyncio.wait_for(work, 60)).result()


def test_pages_are_run_a_few_at_a_time_in_the_order_in_which_they_were_opened():
    async def played():
        turns, log = rendering.Turns(2), []

        async def page(name):
            before = turns.before
            await turns.take(name)
            log.append((name, before))

        await asyncio.gather(page("a"), page("b"))
        later = [asyncio.ensure_future(page(name)) for name in "cde"]
        await asyncio.sleep(0)
        assert log == [("a", 0), ("b", 0)]
        later[0].cancel()  # c's learner has left
        turns.leave("b")
        await later[1]
        turns.leave("b")  # once is enough
        await asyncio.sleep(0)
        assert not later[2].done()
        turns.leave("a")
        await later[2]
        assert log[2:] == [("d", 3), ("e", 4)]
        for name in "de":
            turns.leave(name)
        assert turns.before == 0

    played_out(played())


def test_a_page_that_never_ends_does_not_hold_up_the_others(monkeypatch):
    monkeypatch.setattr(rendering, "_LONGEST_TURN", 0)

    async def played():
        turns = rendering.Turns(1)
        await turns.take("endless")
        await turns.take("next")

    played_out(played())


# --- what a page may say to its kernel -------------------------------------------------------------------


def message(kind, content, channel="shell"):
    header = {
        "msg_id": uuid.uuid4().hex,
        "msg_type": kind,
        "session": "s",
        "username": "",
        "version": "5.4",
        "date": "2026-01-01T00:00:00Z",
    }
    whole = {"header": header, "parent_header": {}, "metadata": {}, "content": content}
    return serialize_msg_to_ws_v1(whole, channel, lambda part: json.dumps(part).encode()), json.dumps({**whole, "channel": channel})


def passes(said, protocol="v1.kernel.websocket.jupyter.org"):
    return _Filtered.passes(type("Line", (), {"subprotocol": protocol})(), said)


ALLOWED = {
    "comm_msg": {"comm_id": "a", "data": {"method": "update", "state": {"value": 1}}},
    "comm_close": {"comm_id": "a", "data": {}},
    "comm_info_request": {},
    "kernel_info_request": {},
    "comm_open": {"comm_id": "a", "target_name": "jupyter.widget.control", "data": {}},
}
REFUSED = [
    ("execute_request", {"code": "1", "silent": False}, "shell"),
    ("execute_request", {"code": "1", "silent": True}, "control"),
    ("complete_request", {"code": "os.", "cursor_pos": 3}, "shell"),
    ("inspect_request", {"code": "x", "cursor_pos": 1}, "shell"),
    ("history_request", {}, "shell"),
    ("is_complete_request", {"code": "x"}, "shell"),
    ("input_reply", {"value": "x"}, "stdin"),
    ("interrupt_request", {}, "control"),
    ("shutdown_request", {"restart": False}, "shell"),
    ("shutdown_request", {"restart": True}, "control"),
    ("debug_request", {"command": "evaluate"}, "control"),
    ("create_subshell_request", {}, "control"),
    ("comm_open", {"comm_id": "a", "target_name": "jupyter.widget", "data": {"state": {"_model_name": "TextModel"}}}, "shell"),
    ("comm_msg", {"comm_id": "a", "data": {}}, "control"),
    ("comm_open", {}, "shell"),
    ("", {}, "shell"),
]


@pytest.mark.parametrize("kind", ALLOWED)
def test_what_moves_widgets_passes(kind):
    binary, text = message(kind, ALLOWED[kind])
    assert passes(binary) and passes(text, None)


@pytest.mark.parametrize("kind, content, channel", REFUSED, ids=[f"{kind}-{channel}" for kind, _, channel in REFUSED])
def test_what_runs_or_looks_into_something_does_not(kind, content, channel):
    binary, text = message(kind, content, channel)
    assert not passes(binary) and not passes(text, None)


@pytest.mark.parametrize("said", [b"", b"\0" * 40, b"\xff" * 64, "{", "[]", "null", '{"channel": "shell"}', b"\x01" + b"\0" * 7], ids=repr)
def test_what_cannot_be_read_does_not(said):
    assert not passes(said) and not passes(said, None)


# --- what a kernel may touch ------------------------------------------------------------------------------

TRIES = """
import os, sys
from pathlib import Path
from aquaplumb.classroom.guard import lock, readable
room, elsewhere = Path(sys.argv[1]), Path(sys.argv[2])
own, other = room / "ama", room / "ben"
os.chdir(own)
lock(own, shut=room, read=readable())
open("my-build.toml", "w").write("kept")
os.rename("my-build.toml", "b.toml"); os.replace("b.toml", "my-build.toml"); os.mkdir("sheet"); os.listdir(".")
assert Path(own / "my-build.toml").read_text() == "kept"
import colorsys, aquaplumb.review
open(aquaplumb.review.__file__).close()
for name, call in {
    "another's build": lambda: open(other / "my-build.toml"),
    "another's, by way of ..": lambda: open("../ben/my-build.toml"),
    "the list of learners": lambda: open(room / ".room.json"),
    "who there is": lambda: os.listdir(room),
    "a link out": lambda: open(own / "link"),
    "elsewhere": lambda: open(elsewhere / "secret"),
    "writing elsewhere": lambda: open(elsewhere / "new", "w"),
    "writing with flags": lambda: os.open(elsewhere / "new", os.O_CREAT | os.O_WRONLY),
    "writing in the library": lambda: open(aquaplumb.review.__file__, "a"),
    "taking away": lambda: os.remove(other / "my-build.toml"),
    "moving out": lambda: os.rename("my-build.toml", elsewhere / "b"),
    "moving in": lambda: os.rename(elsewhere / "secret", "s"),
    "a program": lambda: __import__("subprocess").run([sys.executable, "-c", "1"]),
    "a shell": lambda: os.system("true"),
}.items():
    try:
        call()
        print("OPEN:", name)
    except PermissionError:
        pass
print("done")
"""


def test_a_kernel_reads_and_writes_its_learners_folder_only(tmp_path):
    room, elsewhere = tmp_path / "room", tmp_path / "elsewhere"
    for place in (room / "ama", room / "ben", elsewhere):
        place.mkdir(parents=True)
    for file in (room / "ben" / "my-build.toml", room / ".room.json", elsewhere / "secret"):
        file.write_text("theirs")
    (room / "ama" / "link").symlink_to(elsewhere / "secret")
    done = subprocess.run([sys.executable, "-c", TRIES, str(room), str(elsewhere)], capture_output=True, text=True, check=False)
    assert done.stdout.split("\n")[:-1] == ["done"], done.stdout + done.stderr
    assert (elsewhere / "secret").read_text() == "theirs" and not (elsewhere / "new").exists()
