"""Files that cannot be read are refused in one sentence; what can be read is."""

from __future__ import annotations

from decimal import Decimal

import pytest

from advisor.errors import BadInput
from advisor.routes import toml_file
from advisor.routes.toml_file import read_toml


def refusal(path) -> str:
    with pytest.raises(BadInput) as caught:
        read_toml(path)
    assert caught.value.file == str(path)
    return str(caught.value)


def test_decimals_are_exact(tmp_path):
    path = tmp_path / "x.toml"
    path.write_text("a = 0.1\n")
    assert read_toml(path).values == {"a": Decimal("0.1")}


def test_a_byte_order_mark_and_windows_line_ends_are_passed_over(tmp_path):
    path = tmp_path / "x.toml"
    path.write_bytes(b"\xef\xbb\xbfa = 1\r\n\r\nb = 2\r\n")
    file = read_toml(path)
    assert file.values == {"a": 1, "b": 2}
    assert file.lines.lines[("b",)] == 3


def test_a_file_that_is_not_there(tmp_path):
    assert "there is no such file" in refusal(tmp_path / "none.toml")


def test_a_folder(tmp_path):
    assert "is a folder" in refusal(tmp_path)


def test_bytes_that_are_no_text(tmp_path):
    path = tmp_path / "x.toml"
    path.write_bytes(b"\x7fELF\x02\x01\x00\x00\x00")
    assert "is not a text file" in refusal(path)


@pytest.mark.parametrize("encoding", ["latin-1", "utf-16"])
def test_text_in_another_encoding_names_the_line(tmp_path, encoding):
    path = tmp_path / "x.toml"
    path.write_bytes("a = 1\nb = 'é'\n".encode(encoding))
    said = refusal(path)
    assert "is not written in UTF-8" in said
    assert "save it as UTF-8" in said
    assert ("line 2" if encoding == "latin-1" else "line 1") in said


@pytest.mark.parametrize(
    ("text", "line"),
    [("a = 1\nb = \n", 2), ("a = 1\na = 2\n", 2), ("[a\n", 1), ('a = """\n\n', 3), ("a = 1\n[", 2)],
)
def test_what_is_not_toml_names_the_line(tmp_path, text, line):
    path = tmp_path / "x.toml"
    path.write_text(text)
    said = refusal(path)
    assert "is not TOML" in said
    assert f"line {line}" in said


def test_numbers_of_thousands_of_digits(tmp_path):
    path = tmp_path / "x.toml"
    path.write_text("a = " + "1" * 5000)
    assert "a number cannot be read" in refusal(path)


def test_lists_nested_without_end(tmp_path):
    path = tmp_path / "x.toml"
    path.write_text("a = " + "[" * 5000 + "]" * 5000)
    assert "nested too deep" in refusal(path)


def test_a_huge_file_is_not_read(tmp_path, monkeypatch):
    monkeypatch.setattr(toml_file, "LARGEST_FILE_BYTES", 1024 * 1024)
    path = tmp_path / "x.toml"
    path.write_text("# " + "x" * 2 * 1024 * 1024)
    said = refusal(path)
    assert "has 2 MB" in said
    assert "vary" in said
