"""Measures photos by the collection's own tags, and shows what was found as JSON, as text and as table rows."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, cast

from server.errors import BadTagCode
from server.ids import read_tag_code
from server.photos.measuring import Measurement, measure
from server.photos.rulers import CardPlan, Rows, TagCode
from server.photos.scene import Scene

# The width of a tag's code that was printed without wishing for another.
CODE_MM = 20.0
COLUMNS = ("photo", "leaf", "area_cm2", "healthy_cm2", "damage_percent", "green_index", "x", "y", "width", "height",
           "reference", "scale_mm_per_px", "problem")  # fmt: skip


def measured(
    data: bytes,
    cards: Sequence[CardPlan],
    draw: Callable[[str], Rows | None],
    widths_mm: Mapping[str, float],
    code_mm: float = CODE_MM,
) -> dict[str, Any]:
    """What a photo file tells of its leaves, as a JSON document."""
    return _document(_measure(data, cards, draw, widths_mm, code_mm, with_scene=False))


def measured_with_scene(
    data: bytes, cards: Sequence[CardPlan], draw: Callable[[str], Rows | None], widths_mm: Mapping[str, float]
) -> tuple[dict[str, Any], Scene]:
    """As `measured`, with what was counted to be looked at; the document tells its size as `picture`."""
    found = _measure(data, cards, draw, widths_mm, CODE_MM, with_scene=True)
    scene = cast("Scene", found.scene)
    size = {"width_px": scene.width_px, "height_px": scene.height_px}
    return {**_document(found), "picture": {**size, "mm_per_px": round(scene.mm_per_px, 5)}}, scene


def _measure(
    data: bytes,
    cards: Sequence[CardPlan],
    draw: Callable[[str], Rows | None],
    widths_mm: Mapping[str, float],
    code_mm: float,
    with_scene: bool,
) -> Measurement:
    """Measure by our own tags.

    `draw` gives the rows of the modules that we print for a text. `widths_mm` is how wide the codes of tags were
    printed, by their code; others are `code_mm` wide.
    Raises Unmeasurable and what else `server.photos.measuring.measure` raises.
    """

    def tag(text: str) -> TagCode | None:
        try:
            return TagCode(widths_mm.get(read_tag_code(text), code_mm), draw(text))
        except BadTagCode:
            return None

    return measure(data, cards, tag, with_scene)


def _document(found: Measurement) -> dict[str, Any]:
    leaves = [
        {
            "area_cm2": round(leaf.area_cm2, 2),
            "healthy_cm2": round(leaf.healthy_cm2, 2),
            "damage_percent": round(leaf.damage_percent, 2),
            "green_index": round(leaf.green_index, 3),
            "box": list(leaf.box),
        }
        for leaf in found.leaves
    ]
    return {"scale_mm_per_px": round(found.scale_mm_per_px, 5), "reference": found.reference, "leaves": leaves}


def measure_lines(photo: str, document: dict[str, Any]) -> Iterator[str]:
    """The leaves of one photo as lines for the terminal."""
    yield f"{photo}: by the {document['reference']}, {document['scale_mm_per_px']:.3f} mm a pixel"
    yield f"{'leaf':>4}{'area cm²':>10}{'damage %':>10}{'green':>7}"
    for number, leaf in enumerate(document["leaves"], 1):
        yield f"{number:4}{leaf['area_cm2']:10.1f}{leaf['damage_percent']:10.1f}{leaf['green_index']:7.2f}"


def measure_rows(photo: str, document: dict[str, Any]) -> Iterator[tuple[Any, ...]]:
    """The leaves of one photo as rows under COLUMNS."""
    for number, leaf in enumerate(document["leaves"], 1):
        numbers = (leaf["area_cm2"], leaf["healthy_cm2"], leaf["damage_percent"], leaf["green_index"])
        yield (photo, number, *numbers, *leaf["box"], document["reference"], document["scale_mm_per_px"], "")
