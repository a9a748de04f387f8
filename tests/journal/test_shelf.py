"""Protocol files are found, read with care, and written without loss."""

import errno
import os
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from protocol_files import SOUND, changed
from tracker.core.loading import LIMIT, load_protocol
from tracker.journal.shelf import (
    Listed,
    ProtocolNotFound,
    ProtocolNotWritten,
    ProtocolUnreadable,
    find_protocol,
    list_protocols,
    new_protocol,
    read_protocol,
    shelves,
    shipped,
)

needs_fifos = pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no FIFOs here")


@pytest.fixture
def shelf(tmp_path: Path) -> Path:
    """A folder with a sound protocol, one with findings, and something that is none."""
    folder = tmp_path / "protocols"
    folder.mkdir()
    (folder / "small.toml").write_text(SOUND, encoding="utf-8")
    (folder / "odd.toml").write_text(changed(('key = "v"', 'key = "vv"')), encoding="utf-8")
    (folder / "notes.txt").write_text("not a protocol", encoding="utf-8")
    return folder


# -- where they are


def test_the_shipped_folder_holds_the_shipped_protocols() -> None:
    """The protocol for complex repairs is found whether installed or in a checkout."""
    path, text = find_protocol("complex-pvr", [shipped()])

    assert path.name == "complex-pvr.toml"
    assert load_protocol(text, path.name).protocol is not None


def test_an_archive_has_a_folder_of_its_own_that_comes_first(tmp_path: Path) -> None:
    """A department's own protocol wins over the shipped one of the same name."""
    own, theirs = shelves(tmp_path)
    own.mkdir()
    (own / "complex-pvr.toml").write_text(SOUND, encoding="utf-8")

    assert (own, theirs) == (tmp_path / "protocols", shipped())
    assert find_protocol("complex-pvr", shelves(tmp_path))[0].parent == own


def test_a_list_says_what_each_file_holds(shelf: Path) -> None:
    """Sound files are listed by what they say of themselves, others by their names and their findings."""
    assert list_protocols([shelf]) == (
        Listed("odd", "", "", shelf / "odd.toml", "", 0, 0, 1),
        Listed("small-repair", "Small repair", "1.0", shelf / "small.toml", "", 2, 9, 0),
    )


def test_a_folder_that_is_not_there_is_empty(tmp_path: Path, shelf: Path) -> None:
    """An archive without protocols of its own lists the others."""
    assert list_protocols([tmp_path / "none", shelf]) == list_protocols([shelf])
    assert list_protocols([]) == ()


@pytest.mark.parametrize("name", ["small", "small-repair"])
def test_a_protocol_goes_by_its_file_name_or_its_id(shelf: Path, name: str) -> None:
    """Both the name of the file without its ending and the id inside it find a protocol."""
    assert find_protocol(name, [shelf]) == (shelf / "small.toml", SOUND)


def test_a_protocol_goes_by_its_path(shelf: Path) -> None:
    """A path needs no folders, and a file with findings is found as well."""
    assert find_protocol(shelf / "odd.toml", [])[0] == shelf / "odd.toml"
    assert find_protocol(str(shelf / "odd.toml"), [])[0] == shelf / "odd.toml"


@pytest.mark.parametrize(
    "name", ["", "none", "notes", "../protocols/none", "none.toml", "a\0b", "a\0b.toml", "\udcff", "x" * 5000]
)
def test_what_is_not_there_is_a_sentence(shelf: Path, name: str) -> None:
    """A name that finds nothing is told in one sentence that a terminal can show."""
    with pytest.raises(ProtocolNotFound) as refusal:
        find_protocol(name, [shelf])

    assert str(refusal.value).startswith("There is no protocol")
    assert str(refusal.value).isprintable()


def test_a_name_cannot_climb_out_of_the_folders(shelf: Path) -> None:
    """A bare name is compared with the files of the folders, never joined to a path."""
    (shelf.parent / "outside.toml").write_text(SOUND, encoding="utf-8")

    with pytest.raises(ProtocolNotFound):
        find_protocol("..\\outside", [shelf])


# -- how they are read


def test_bytes_that_are_not_utf8_are_a_finding(shelf: Path) -> None:
    """A file in another encoding is refused at the line of the first odd byte."""
    path = shelf / "latin.toml"
    path.write_bytes('title = "A"\nid = "Über"\n'.encode("latin-1"))

    (finding,) = read_protocol(path).findings
    assert (finding.source, finding.line) == ("latin.toml", 2)
    assert finding.what == "holds bytes that are not UTF-8"
    with pytest.raises(ProtocolUnreadable, match=r"latin\.toml:2: holds bytes that are not UTF-8"):
        find_protocol(path, [])


def test_a_byte_order_mark_is_nothing(shelf: Path) -> None:
    """Some editors begin a UTF-8 file with a mark; it is not part of the text."""
    path = shelf / "marked.toml"
    path.write_bytes(b"\xef\xbb\xbf" + SOUND.encode())

    assert read_protocol(path).findings == ()


def test_windows_line_ends_count_as_one(shelf: Path) -> None:
    """A file from Windows is read alike, its lines counted alike."""
    text = changed(('key = "v"', 'key = "vv"'))
    path = shelf / "odd.toml"
    path.write_bytes(text.replace("\n", "\r\n").encode())

    assert read_protocol(path).findings == load_protocol(text, "odd.toml").findings


def test_a_file_over_a_mebibyte_is_not_read_whole(shelf: Path) -> None:
    """A file of 64 MiB, all of it a hole, is refused after the first mebibyte."""
    path = shelf / "vast.toml"
    with path.open("wb") as file:
        file.truncate(2**26)

    (finding,) = read_protocol(path).findings
    assert finding.what == "holds more than 1 MiB"


def test_a_mebibyte_is_read(shelf: Path) -> None:
    """The limit itself is allowed."""
    path = shelf / "large.toml"
    path.write_text(SOUND + "#" * (LIMIT - len(SOUND)), encoding="utf-8")

    assert read_protocol(path).findings == ()


def test_a_folder_is_no_file(shelf: Path) -> None:
    """A folder with the name of a protocol is refused."""
    (shelf / "folder.toml").mkdir()

    (finding,) = read_protocol(shelf / "folder.toml").findings
    assert finding.what == "is no plain file"


@needs_fifos
def test_a_fifo_is_refused_without_waiting(shelf: Path) -> None:
    """A FIFO, which would keep a reader waiting for ever, is not opened; nor does it stop the list."""
    os.mkfifo(shelf / "pipe.toml")

    (finding,) = read_protocol(shelf / "pipe.toml").findings
    assert finding.what == "is no plain file"
    assert [entry.findings for entry in list_protocols([shelf]) if entry.id == "pipe"] == [1]


@needs_fifos
def test_a_file_that_turns_into_a_fifo_is_refused(shelf: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was a plain file a moment ago and is none when opened does not keep the reader waiting."""
    os.mkfifo(shelf / "pipe.toml")
    plain = (shelf / "small.toml").stat()
    monkeypatch.setattr(Path, "stat", lambda self, **_: plain)

    (finding,) = read_protocol(shelf / "pipe.toml").findings
    assert finding.what == "is no plain file"


@pytest.mark.skipif(sys.platform == "win32", reason="no device files there")
def test_a_device_is_refused() -> None:
    """A device that gives bytes without end is not opened."""
    (finding,) = read_protocol(Path("/dev/zero")).findings
    assert finding.what == "is no plain file"


@pytest.mark.parametrize("name", ["gone.toml", "a\0b.toml", "small.toml/inner.toml", "x" * 5000 + ".toml"])
def test_what_cannot_be_opened_is_a_finding(shelf: Path, name: str) -> None:
    """A path that leads nowhere is a finding as any other, with the reason."""
    (finding,) = read_protocol(shelf / name).findings

    assert finding.what.startswith("cannot be read: ")
    assert str(finding).isprintable()


@pytest.mark.skipif(sys.platform == "win32" or os.geteuid() == 0, reason="nothing is kept from this user")
def test_a_file_that_may_not_be_read_is_a_finding(shelf: Path) -> None:
    """A file kept from this user is listed with its one finding."""
    (shelf / "small.toml").chmod(0)

    (finding,) = read_protocol(shelf / "small.toml").findings
    assert finding.what.startswith("cannot be read: ")


def test_the_machines_own_habits_do_not_matter(shelf: Path) -> None:
    """Under a locale that is not UTF-8 a file is read as UTF-8 all the same."""
    (shelf / "small.toml").write_text(changed(("Small repair", "Kleine Öffnung")), encoding="utf-8")
    code = (
        "from pathlib import Path\n"
        "from tracker.journal.shelf import list_protocols\n"
        f"print(ascii(list_protocols([Path({str(shelf)!r})])[1].title))"
    )
    env = {**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"}
    said = subprocess.run([sys.executable, "-c", code], env=env, capture_output=True, text=True, check=True)

    assert said.stdout.strip() == r"'Kleine \xd6ffnung'"


# -- how they are written


def test_no_file_is_ever_overwritten(shelf: Path) -> None:
    """Where there is a file of that name it stays as it is, and a sentence says so."""
    with pytest.raises(ProtocolNotWritten, match=r"^odd\.toml was not written: .*already a file"):
        new_protocol(shelf, "odd", SOUND)

    assert (shelf / "odd.toml").read_text(encoding="utf-8") == changed(('key = "v"', 'key = "vv"'))


def test_a_full_disk_leaves_no_half_a_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the disk refuses, the sentence says why and no file is left."""

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(ProtocolNotWritten, match=r"new\.toml was not written: the disk is full"):
        new_protocol(tmp_path, "new", SOUND)

    assert list(tmp_path.iterdir()) == []


def test_what_is_written_is_the_text_under_its_new_id(tmp_path: Path) -> None:
    """The file is the same UTF-8 text with line feeds, all but the id, in a folder made for it."""
    path = new_protocol(tmp_path / "none", "new", changed(("Small repair", "Kleine Öffnung")))

    assert stat.S_ISREG(path.stat().st_mode)
    assert path.read_bytes().decode() == changed(("Small repair", "Kleine Öffnung"), ("small-repair", "new"))
