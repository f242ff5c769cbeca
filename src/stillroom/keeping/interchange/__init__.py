"""The shelf as files: a folder of CSV out and in, JSON out, and a person's own notebook in."""

from .notebook import import_notebook
from .reading import import_folder
from .report import BadLine, ImportReport, Question
from .writing import export_folder, export_json

__all__ = [
    "BadLine",
    "ImportReport",
    "Question",
    "export_folder",
    "export_json",
    "import_folder",
    "import_notebook",
]
