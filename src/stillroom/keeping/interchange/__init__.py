"""The shelf as files: a folder of CSV out and in, JSON out, and a person's own notebook in."""

from stillroom.keeping.interchange.answers import SheetWishes
from stillroom.keeping.interchange.edited import export_workbook, import_edited
from stillroom.keeping.interchange.mapping import saved_mapping, write_mapping
from stillroom.keeping.interchange.merging import merge_folder
from stillroom.keeping.interchange.notebook import import_notebook
from stillroom.keeping.interchange.reading import import_folder
from stillroom.keeping.interchange.report import BadLine, ImportReport, Question
from stillroom.keeping.interchange.writing import export_folder, export_json

__all__ = [
    "BadLine",
    "ImportReport",
    "Question",
    "SheetWishes",
    "export_folder",
    "export_json",
    "export_workbook",
    "import_edited",
    "import_folder",
    "import_notebook",
    "merge_folder",
    "saved_mapping",
    "write_mapping",
]
