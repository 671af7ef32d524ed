"""The sizes of whole pages, for sheets and reports to print."""

from __future__ import annotations

from reportlab.lib.pagesizes import A4, LETTER

from labels.errors import LabelError

PAGES = {"a4": A4, "letter": LETTER}
PAGE_DEFAULT = "a4"


def page_size(name: str) -> tuple[float, float]:
    """Width and height in points of a page by its name. Raises LabelError that names those there are."""
    if name not in PAGES:
        raise LabelError(f"No paper is called {name!r}; there are: {', '.join(PAGES)}.")
    return PAGES[name]  # type: ignore[no-any-return]  # reportlab has no types
