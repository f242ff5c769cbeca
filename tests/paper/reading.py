"""Readers of finished pages that share nothing with the code that made them."""

from io import BytesIO

import pypdfium2
import zxingcpp
from pypdf import PdfReader


def pages(pdf: bytes) -> list[str]:
    """The words of each page, runs of space closed up."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]


def codes(pdf: bytes, dpi: int = 300) -> list[str]:
    """What a camera reads from the squares on all pages."""
    found = []
    with pypdfium2.PdfDocument(pdf) as document:
        for page in document:
            image = page.render(scale=dpi / 72).to_pil().convert("L")
            found += [barcode.text for barcode in zxingcpp.read_barcodes(image)]
    return found
