"""Finds what a photo can be measured by: the printed card, or a tag's code of known width."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from server.errors import Unmeasurable
from server.photos.codes import Code, find_blurred_codes, find_codes, register
from server.photos.plane import apply, fit_homography, stretches
from server.wording.said import joined, say

Floats = NDArray[np.floating[Any]]
Box = tuple[float, float, float, float]
Rows = Sequence[Sequence[bool]]

# Samples a module when codes are laid over the picture: a tag's small code carries the whole map, a card's four are far
# apart.
SAMPLES_TAG, SAMPLES_CARD = 4, 2
# A module needs this many pixels of the photo: below it codes are misread as often as read (measured).
MODULE_PX_MIN = 1.9
# The least ratio of a view's two scales: a tilt of 35 degrees gives 0.82, of 50 degrees 0.64, and beside the picture's
# middle a tag's is less than that of the view.
RATIO_MIN_CARD, RATIO_MIN_TAG = 0.62, 0.55
# The spread of blur that small spots survive.
BLUR_MM_MAX = 0.6
# What the card's corners may miss a plane by before it counts as bent.
BENT_MM_MAX = 1.2
# How much of a code's contrast may stay unexplained: of a card's that was recognised by its pattern alone, and of a
# tag's, whose place is all there is (measured: 0.02 to 0.04 where it lies right, more where parts are a module off).
MISFIT_MAX, MISFIT_TAG_MAX = 0.2, 0.08
# Grey levels of a code's white, of 255, outside of which it is light that hides the code.
LIGHT = (45.0, 250.0)
CORNER_WORDS = {
    "NW": say("top left"),
    "NE": say("top right"),
    "SE": say("bottom right"),
    "SW": say("bottom left"),
}


@dataclass(frozen=True, slots=True)
class TagCode:
    """A tag's code: its width in mm without the white border, and the rows of its modules (True is dark) as printed.

    A blurred code can be read from its own repair symbols where its modules can't be told one by one; then the rows
    that it must have say best where it lies.
    """

    width_mm: float
    rows: Rows | None = None


# The tag that a code's text belongs to, or None where it is no tag's.
TagOf = Callable[[str], TagCode | None]


class CardPlan(Protocol):
    """What must be known of a printed card, in mm from its top left corner; boxes are (x, y, width, height)."""

    @property
    def page_mm(self) -> tuple[float, float]:
        """Width and height of the sheet."""

    @property
    def codes(self) -> Mapping[str, Box]:
        """Where each code's ink is, by its text, which ends in its corner's letters."""

    @property
    def patterns(self) -> Mapping[str, Rows]:
        """Rows of each code's modules by its text; True is dark."""

    @property
    def greys(self) -> Sequence[tuple[Box, float]]:
        """The grey fields, with their share of white."""

    @property
    def blank(self) -> Box:
        """The room for leaves."""


@dataclass(frozen=True, slots=True)
class Ruler:
    """A map from the ground's mm to the picture's px, and what it was found by; `card` is None for a tag.

    A tag's mm count from its code's top left corner, a card's from the sheet's.
    """

    to_px: Floats
    codes: tuple[Code, ...]
    boxes: tuple[Box, ...]
    card: CardPlan | None

    @property
    def kind(self) -> str:
        """`card` or `tag`."""
        return "tag" if self.card is None else "card"

    @property
    def middle_mm(self) -> Floats:
        """The middle of what was found."""
        corners = [(x + width / 2, y + height / 2) for x, y, width, height in self.boxes]
        return np.asarray(np.mean(corners, axis=0))

    @property
    def px_per_mm(self) -> float:
        """The mean scale at the middle."""
        large, small = stretches(self.to_px, self.middle_mm)
        return float(np.sqrt(large * small))

    @property
    def blur_mm(self) -> float:
        """The standard deviation of the blur, the median over the codes."""
        spreads = [code.blur_modules * box[2] / code.modules for code, box in zip(self.codes, self.boxes, strict=True)]
        return float(np.median(spreads))


def find_ruler(grey: NDArray[np.uint8], cards: Sequence[CardPlan], tag_of: TagOf) -> Ruler:
    """The card in a grey picture, or else its largest tag.

    Raises Unmeasurable when there is neither, or a corner of the card is missing.
    """
    known = {text for card in cards for text in card.codes}
    found: list[tuple[str, int, Floats]] = []
    for look in (find_codes, partial(find_codes, thorough=True), find_blurred_codes):
        found = look(grey) or found
        if any(text in known or tag_of(text) is not None for text, _, _ in found):
            break
    rough = {text: (modules, corners) for text, modules, corners in found}
    card = max(cards, key=lambda each: len(rough.keys() & each.codes.keys()))
    if rough.keys() & card.codes.keys():
        return _card_ruler(grey, card, {text: rough[text] for text in card.codes if text in rough})
    asked = {text: tag_of(text) for text in rough}
    tags = {text: tag for text, tag in asked.items() if tag is not None}
    if not tags:
        raise _no_code(foreign=bool(rough))
    return _tag_ruler(grey, {text: (tags[text], *rough[text]) for text in tags})


def _tag_ruler(grey: NDArray[np.uint8], tags: dict[str, tuple[TagCode, int, Floats]]) -> Ruler:
    """The largest tag, laid over the picture as we print it, or as it is read where it was printed otherwise."""
    text = max(tags, key=lambda each: float(np.ptp(tags[each][2], axis=0).max()))
    tag, modules, rough = tags[text]
    codes = []
    if tag.rows is not None and len(tag.rows) == modules:
        codes.append(register(grey, text, modules, rough, SAMPLES_TAG, 1.0 - np.array(tag.rows, np.float32)))
    if not codes or codes[0].misfit > MISFIT_TAG_MAX:
        codes.append(register(grey, text, modules, rough, SAMPLES_TAG))
    code = min(codes, key=lambda each: each.misfit)
    box = (0.0, 0.0, tag.width_mm, tag.width_mm)
    return Ruler(fit_homography(_corners(box), code.corners), (code,), (box,), None)


def check_ruler(ruler: Ruler, photo_px_per_px: float) -> None:
    """Raises Unmeasurable when the view is too far, too slanting or too blurred to measure by.

    `photo_px_per_px` is how many pixels of the photo one of the picture stands for.
    """
    module_px = min(code.module_px for code in ruler.codes) * photo_px_per_px
    if module_px < MODULE_PX_MIN:
        told = say(
            "The code is too small in the picture: its squares have {found:.1f} pixels and need {least:g}. "
            "Go closer, to {percent:.0f} % of the distance or less."
        )
        times = MODULE_PX_MIN / module_px
        raise Unmeasurable("too small", told.filled(found=module_px, least=MODULE_PX_MIN, percent=100 / times))
    _check_tilt(ruler.to_px, ruler.middle_mm, RATIO_MIN_TAG if ruler.card is None else RATIO_MIN_CARD)
    if ruler.blur_mm > BLUR_MM_MAX or (ruler.card is None and ruler.codes[0].misfit > MISFIT_TAG_MAX):
        light = float(np.median([code.white for code in ruler.codes]))
        if light > LIGHT[1]:
            raise burnt_out()
        if light < LIGHT[0]:
            raise too_dark()
        told = say(
            "The code is not seen clearly enough: it is blurred by {blur:.1f} mm, bent or dirty. Hold the phone still, "
            "tap on the code to focus, go no nearer than 15 cm, and keep the code flat and clean."
        )
        raise Unmeasurable("blurred", told.filled(blur=ruler.blur_mm))


def _check_tilt(to_px: Floats, middle_mm: Floats, ratio_min: float) -> None:
    large, small = stretches(to_px, middle_mm)
    if small / large < ratio_min:
        told = say(
            "The photo was taken at too slanting an angle, about {tilt:.0f} degrees. Hold the phone level above the "
            "leaf, at most 35 degrees off."
        )
        raise Unmeasurable("too tilted", told.filled(tilt=float(np.degrees(np.arccos(small / large)))))


def burnt_out() -> Unmeasurable:
    """The refusal of a photo whose light parts are lost."""
    return Unmeasurable(
        "burnt out",
        say(
            "The photo is burnt out: its light parts are all white. Go into even shade, or tap on the leaf so that the "
            "camera exposes for it, and take it again."
        ),
    )


def too_dark() -> Unmeasurable:
    """The refusal of a photo whose colours drown in noise."""
    return Unmeasurable("too dark", say("The photo is too dark. Go where there is more light, and take it again."))


def _card_ruler(grey: NDArray[np.uint8], card: CardPlan, rough: dict[str, tuple[int, Floats]]) -> Ruler:
    whites = {text: 1.0 - np.array(rows, np.float32) for text, rows in card.patterns.items()}
    codes = {text: register(grey, text, *each, SAMPLES_CARD, whites[text]) for text, each in rough.items()}
    to_px = _fit(card, codes)
    _check_tilt(to_px, np.array(card.page_mm) / 2, RATIO_MIN_CARD)
    for text in card.codes.keys() - codes.keys():
        codes[text] = _seek_again(grey, card, text, to_px, whites[text])
    to_px = _fit(card, codes)
    boxes = tuple(card.codes[text] for text in codes)
    ruler = Ruler(to_px, tuple(codes.values()), boxes, card)
    seen = np.concatenate([code.corners for code in codes.values()])
    off_px = seen - apply(to_px, np.concatenate([_corners(box) for box in boxes]))
    off_mm = float(np.sqrt((off_px**2).sum(axis=1).mean())) / ruler.px_per_mm
    if off_mm > BENT_MM_MAX:
        told = say("The card is bent: its corners are {off:.1f} mm off. Lay it flat on something hard.")
        raise Unmeasurable("bent", told.filled(off=off_mm))
    return ruler


def _fit(card: CardPlan, codes: Mapping[str, Code]) -> Floats:
    on_card = np.concatenate([_corners(card.codes[text]) for text in codes])
    return fit_homography(on_card, np.concatenate([code.corners for code in codes.values()]))


def _seek_again(grey: NDArray[np.uint8], card: CardPlan, text: str, to_px: Floats, white: Floats) -> Code:
    """A code that was not read at once, sought where the others say that it must lie."""
    x, y, width, height = card.codes[text]
    word = CORNER_WORDS[text[-2:]]
    corners = apply(to_px, _corners((x, y, width, height)))
    if (corners < 0).any() or (corners > (grey.shape[1], grey.shape[0])).any():
        told = say("The card's {corner} code is not wholly in view. Take the photo with all four codes in it.")
        raise Unmeasurable("card cut off", told.filled(corner=word))
    code = register(grey, text, len(white), corners, SAMPLES_CARD, white)
    if code.misfit > MISFIT_MAX:
        told = say(
            "The card's {corner} code can't be read. Move what lies on it or shines on it, and keep all four in view."
        )
        raise Unmeasurable("code covered", told.filled(corner=word))
    return code


def _corners(box: Sequence[float]) -> Floats:
    x, y, width, height = box
    return np.array([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], float)


def _no_code(foreign: bool) -> Unmeasurable:
    other = [say("The code in the picture is none of a tag or a measuring card.")] if foreign else []
    told = say(
        "No code of a tag or measuring card can be read in the photo. Lay a tag or the printed card beside the leaf, "
        "go as near as 30 to 50 cm, so that the code is sharp and wholly in view, and take it again."
    )
    return Unmeasurable("no code", joined([*other, told]))
