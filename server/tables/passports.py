"""Trees as passports (Multi-Crop Passport Descriptors V.2.1): an accession is a tree that is kept under its own tag."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass

from server.errors import Refused
from server.records.database import execute, snapshot
from server.tables.cells import write_cell
from server.tables.passport_form import (
    ANCEST_WORDS,
    COLLSRC,
    DESCRIPTORS,
    FIELD_COLLECTION,
    INSTCODE,
    OFFSPRING,
    SAMPSTAT,
    split_note,
    taxon_of,
    write_date,
)
from server.wording.said import say


@dataclass(frozen=True, slots=True)
class Holder:
    """What the grower says of all accessions: the institute's code (FAO WIEWS), and codes where no tree has its own."""

    institute: str = ""
    status: str = ""
    acquired: str = ""

    def check(self) -> None:
        """Raise Refused for a code that the descriptors don't know."""
        if self.institute and not INSTCODE.fullmatch(self.institute):
            raise Refused.of("institute", say("An institute's code is three letters and three digits, such as ITA001."))
        for name, code, known in (("status", self.status, SAMPSTAT), ("acquired", self.acquired, COLLSRC)):
            if code and code not in known:
                told = say("“{code}” is no code of it; there are: {known}.", code=code[:20], known=", ".join(known))
                raise Refused.of(name, told)


def passports_csv(holder: Holder | None = None) -> bytes:
    """Every tree that is kept, a row each by tag, under all descriptors in the standard's order; UTF-8."""
    holder = holder or Holder()
    holder.check()
    out = io.StringIO(newline="")
    out.write(",".join(DESCRIPTORS) + "\n")
    with snapshot():
        for _, row, _ in passports():
            for name, cell in (
                ("INSTCODE", holder.institute),
                ("SAMPSTAT", holder.status),
                ("COLLSRC", holder.acquired),
            ):
                row[name] = row[name] or cell
            out.write(",".join(write_cell(row[name]) for name in DESCRIPTORS) + "\n")
    return out.getvalue().encode()


def passports(retired_too: bool = False) -> Iterator[tuple[str, dict[str, str], str]]:
    """(tree's id, its cells by descriptor, its ANCEST by parent and batch alone), by tag."""
    rows = execute(
        "SELECT t.id, t.tag, v.variety, v.species, v.origin_country, t.started_on, t.source, t.donor_number, t.note,"
        " b.method, q.tag FROM tree t LEFT JOIN variety v ON v.id = t.variety"
        " LEFT JOIN batch b ON b.id = t.batch AND NOT b.voided"
        " LEFT JOIN tree q ON q.id = coalesce(t.parent, b.parent) AND NOT q.voided"
        " WHERE NOT t.voided AND (? OR t.standing IS NULL OR t.standing <> 'retired') ORDER BY t.tag",
        (retired_too,),
    ).fetchall()
    for identity, tag, variety, species, country, started_on, source, number, note, method, parent in rows:
        taxon = taxon_of(species)
        ancest = f"{ANCEST_WORDS.get(method, OFFSPRING)} of {parent}" if parent else ""
        told = {
            "ACCENUMB": tag,
            "GENUS": taxon.genus,
            "SPECIES": taxon.species,
            "SPAUTHOR": taxon.author,
            "CROPNAME": taxon.crop,
            "ACCENAME": variety or "",
            "ACQDATE": write_date(started_on),
            "ORIGCTY": country or "",
            "ANCEST": ancest,
            "DONORNAME": source or "",
            "DONORNUMB": number or "",
            "STORAGE": FIELD_COLLECTION,
        }
        noted = split_note(note)
        # A whole day of its own stands before a part of one in the note.
        dated = {"ACQDATE": told["ACQDATE"]} if started_on else {}
        yield identity, dict.fromkeys(DESCRIPTORS, "") | told | noted | dated, ancest
