"""Files are written whole or not at all, and never over one that is there."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from spotplate.engine.files import check_free, write_whole
from spotplate.kb import FaultyInputError


def test_what_is_written_is_there_and_nothing_else(tmp_path: Path) -> None:
    write_whole(tmp_path / "a.txt", b"one")
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"a.txt": b"one"}


def test_a_file_that_is_there_stays_unless_asked(tmp_path: Path) -> None:
    target = tmp_path / "a.txt"
    target.write_bytes(b"old")
    with pytest.raises(FaultyInputError, match="is there already"):
        write_whole(target, b"new")
    assert target.read_bytes() == b"old"
    write_whole(target, b"new", over=True)
    assert target.read_bytes() == b"new"


def test_a_missing_folder_is_told(tmp_path: Path) -> None:
    with pytest.raises(FaultyInputError, match="there is no folder"):
        check_free(tmp_path / "none" / "a.txt")


def test_a_failure_half_way_leaves_the_old_file_and_no_part(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    target = tmp_path / "a.txt"
    target.write_bytes(b"old")

    def fail(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", fail)
    with pytest.raises(FaultyInputError, match="No space left on device"):
        write_whole(target, b"new", over=True)
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"a.txt": b"old"}


def test_a_dangling_link_counts_as_there(tmp_path: Path) -> None:
    link = tmp_path / "link"
    try:
        link.symlink_to(tmp_path / "nowhere")
    except OSError:
        pytest.skip("this system makes no links")
    with pytest.raises(FaultyInputError, match="is there already"):
        write_whole(link, b"new")
