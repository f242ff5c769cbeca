"""Readers of finished pages that share nothing with the code that made them."""

from collections.abc import Iterator
from io import BytesIO

import pypdfium2
import zxingcpp
from PIL import Image
from pypdf import PdfReader


def pages(pdf: bytes) -> list[str]:
    """The words of each page, runs of space closed up."""
    return [" ".join(page.extract_text().split()) for page in PdfReader(BytesIO(pdf)).pages]


def codes(pdf: bytes, dpi: int = 300) -> list[str]:
    """What a camera reads from the squares on all pages."""
    return [text for image in _images(pdf, dpi) for text in _by_zxing(image)]


def readings(pdf: bytes) -> dict[str, list[str]]:
    """What two readers read of all pages at 150 and 300 dpi, in grey and in black and white.

    They share no code: the one is ZXing's, the other the QR part of ZBar.
    """
    found: dict[str, list[str]] = {}
    for dpi in (150, 300):
        for image in _images(pdf, dpi):
            black = image.convert("1", dither=Image.Dither.NONE).convert("L")
            for name, shown in (("grey", image), ("black", black)):
                found.setdefault(f"ZXing, {dpi} dpi, {name}", []).extend(_by_zxing(shown))
                found.setdefault(f"ZBar, {dpi} dpi, {name}", []).extend(_by_zbar(shown))
    return found


def _images(pdf: bytes, dpi: int) -> Iterator[Image.Image]:
    with pypdfium2.PdfDocument(pdf) as document:
        for page in document:
            yield page.render(scale=dpi / 72).to_pil().convert("L")


def _by_zxing(image: Image.Image) -> list[str]:
    return [barcode.text for barcode in zxingcpp.read_barcodes(image)]


def _by_zbar(image: Image.Image) -> list[str]:
    from deqr.qrdec import QRdecDecoder

    found = QRdecDecoder().decode(image.copy())  # it writes its threshold into the image
    return ["".join(str(entry.data) for entry in code.data_entries) for code in found]
