"""Route files written for one test."""

from __future__ import annotations

from pathlib import Path

import pytest

from advisor.routes.read import read_route

HEAD = '[route]\nmakes = "storm lantern"\n'


@pytest.fixture
def write_route(tmp_path):
    """Writes a route file; gives its path."""

    def write(text: str, name: str = "lantern") -> Path:
        path = tmp_path / f"{name}.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def route_of(write_route):
    """Reads the route that a text describes."""

    def read(text: str, name: str = "lantern"):
        return read_route(write_route(text, name))

    return read


@pytest.fixture
def steps_of(route_of):
    """Reads a route from its steps alone."""

    def read(steps: str, head: str = HEAD):
        return route_of(head + steps)

    return read
