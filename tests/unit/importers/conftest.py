"""A file written and read in one go."""

from __future__ import annotations

import pytest

from advisor.names import name_key
from importers.files import open_reading
from importers.reading import ReadOptions


class ReadFile:
    """All that reading a file gave."""

    def __init__(self, reading):
        chunks = list(reading.chunks)
        self.reading = reading
        self.rows = [row for chunk in chunks for row in chunk.rows.to_dicts()]
        self.set_aside = [row for chunk in chunks for row in chunk.set_aside]
        self.notes = reading.notes

    @property
    def faults(self):
        return [(row.line, row.column, row.reason) for row in self.set_aside]

    def column(self, name):
        return [row[name] for row in self.rows]


@pytest.fixture
def read(tmp_path):
    """Reads text, bytes or a path; options as keywords."""

    def run(content, *, name="prices.csv", known=(), layouts=(), only=None, **options):
        path = content
        if isinstance(content, str | bytes):
            path = tmp_path / name
            path.write_bytes(content.encode() if isinstance(content, str) else content)
        said = ReadOptions(**{"money": "shell", "at_us": 0, **options})
        names = {name_key(each): each for each in known}
        return ReadFile(open_reading(path, said, known=names, layouts=layouts, only=only))

    return run
