"""The canonical columns: what `export` writes and any program can make."""

from importers.layout import CANONICAL, Layout
from importers.reading import FIELDS

LAYOUT = Layout(CANONICAL, {field: (field,) for field in FIELDS})
