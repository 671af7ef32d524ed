"""What a phone's camera sees of a printed sheet of tags: each label of the PDF as a frame of a film."""

from __future__ import annotations

from pathlib import Path

import pypdfium2
import zxingcpp
from PIL import Image

FRAME_PX = (640, 480)
PRINT_DPI = 150


def labels_of(pdf: Path) -> dict[str, Image.Image]:
    """Each code on a printed sheet with the picture of its label, about as large as a phone holds it."""
    document = pypdfium2.PdfDocument(pdf)
    found: dict[str, Image.Image] = {}
    for page in document:
        picture = page.render(scale=PRINT_DPI / 72).to_pil().convert("RGB")
        for code in zxingcpp.read_barcodes(picture):
            found[code.text.rsplit("/", 1)[-1]] = _framed(picture, code)
    document.close()
    return found


def _framed(picture: Image.Image, code: zxingcpp.Barcode) -> Image.Image:
    corners = [code.position.top_left, code.position.bottom_right]
    middle = (sum(corner.x for corner in corners) // 2, sum(corner.y for corner in corners) // 2)
    frame = Image.new("RGB", FRAME_PX, "#8a7f6a")
    half = (FRAME_PX[0] // 4, FRAME_PX[1] // 4)
    box = (middle[0] - half[0], middle[1] - half[1], middle[0] + half[0], middle[1] + half[1])
    frame.paste(picture.crop(box).resize(FRAME_PX, Image.Resampling.BICUBIC))
    return frame
