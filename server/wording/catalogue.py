"""The catalogue of messages: gathered from the code, and carried into every language's file.

`python -m server.wording.catalogue` writes `messages.pot` anew and brings each `*.po` up to date with it; what a
language lacks stays empty there and is said in English. A further language begins as a copy of `messages.pot`, named
like `fr.po`.
"""

from __future__ import annotations

from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.pofile import read_po, write_po

from server.wording.manner import FOLDER

SOURCES = FOLDER.parent
TEMPLATE = FOLDER / "messages.pot"
KEYWORDS = {"say": None, "say_count": (1, 2)}
WIDTH = 120


def gathered() -> Catalog:
    """All messages of the code, in the order of its files."""
    found = Catalog(project="leafwalk", charset="utf-8", fuzzy=False)
    for path, _, message, comments, _ in extract_from_dir(SOURCES, [("**.py", "python")], keywords=KEYWORDS):
        found.add(message, locations=[(f"server/{path}", 0)], auto_comments=comments)
    return found


def written(catalogue: Catalog, path: Path) -> None:
    """Keep a catalogue as a file, without the days that would make each writing differ."""
    with path.open("wb") as file:
        write_po(file, catalogue, width=WIDTH, omit_header=path == TEMPLATE, ignore_obsolete=True, include_lineno=False)


def main() -> None:
    """Write the template anew, and bring every language up to date with it."""
    messages = gathered()
    written(messages, TEMPLATE)
    for path in sorted(FOLDER.glob("*.po")):
        with path.open("rb") as file:
            known = read_po(file, locale=path.stem)
        known.update(messages, no_fuzzy_matching=True, update_creation_date=False)
        written(known, path)


if __name__ == "__main__":
    main()
