"""The Multi-Crop Passport Descriptors V.2.1 (FAO/Bioversity International 2015): names, codes, how cells are written.

Their names and order were found in published lists, as were the codes but for those marked, and dates as YYYYMMDD with
hyphens for what is missing. Pure.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from server.wording.said import say

DESCRIPTORS = (
    "PUID", "INSTCODE", "ACCENUMB", "COLLNUMB", "COLLCODE", "COLLNAME", "COLLINSTADDRESS", "COLLMISSID", "GENUS",
    "SPECIES", "SPAUTHOR", "SUBTAXA", "SUBTAUTHOR", "CROPNAME", "ACCENAME", "ACQDATE", "ORIGCTY", "COLLSITE",
    "DECLATITUDE", "LATITUDE", "DECLONGITUDE", "LONGITUDE", "COORDUNCERT", "COORDDATUM", "GEOREFMETH", "ELEVATION",
    "COLLDATE", "BREDCODE", "BREDNAME", "SAMPSTAT", "ANCEST", "COLLSRC", "DONORCODE", "DONORNAME", "DONORNUMB",
    "OTHERNUMB", "DUPLSITE", "DUPLINSTNAME", "STORAGE", "MLSSTAT", "REMARKS",
)  # fmt: skip
SAMPSTAT = (
    "100", "110", "120", "130", "200", "300", "400", "410", "411", "412", "413", "414", "415", "416", "420", "421",
    "422", "423", "500", "600", "999",
)  # fmt: skip
"""Biological status: 300 traditional cultivar or landrace, 400 breeding material, 500 improved cultivar.

130, 416, 421 to 423 and 600 are from memory.
"""
COLLSRC = (
    "10", "11", "12", "13", "14", "15", "20", "21", "22", "23", "24", "25", "26", "27", "28", "30", "40", "50", "60",
    "61", "62", "99",
)  # fmt: skip
"""Where it was acquired: 23 home garden, 30 market or shop, 40 institute or genebank, 50 seed company."""
# 50, DNA, is from memory.
STORAGE = ("10", "11", "12", "13", "20", "30", "40", "50", "99")
FIELD_COLLECTION = "20"
CODES = {"SAMPSTAT": SAMPSTAT, "COLLSRC": COLLSRC, "STORAGE": STORAGE}
INSTCODE = re.compile(r"[A-Z]{3}[0-9]{3,4}")
# Descriptors that a card has a field for; all others stand in the tree's note, a line each, as “NAME: value”.
OF_CARDS = frozenset({
    "ACCENUMB", "GENUS", "SPECIES", "SPAUTHOR", "CROPNAME", "ACCENAME", "ORIGCTY", "DONORNAME", "DONORNUMB", "REMARKS",
})  # fmt: skip
NO_DATE = "-" * 8

# How a tree was made, and how ANCEST says it.
ANCEST_WORDS = {"cutting": "cutting", "layer": "layer", "graft": "graft", "division": "division", "seed": "seedling"}
OFFSPRING = "offspring"
_ANCEST = re.compile(rf"({'|'.join([*ANCEST_WORDS.values(), OFFSPRING])}) of ([0-9A-Z]{{6}})")
_LINE = re.compile(r"([A-Z]{4,15}): (.+)")
_DATE = re.compile(r"(\d{4})(\d\d|--)(\d\d|--)", re.ASCII)
_BINOMIAL = re.compile(r"([A-Z][a-zë-]+) ((?:[×x] ?)?[a-z-]{3,}|sp\.)(?: +(\S.*))?")

# What growers call their trees, and the botanists; common knowledge, no one source.
_TAXA = {
    "fig": ("Ficus", "carica"), "common fig": ("Ficus", "carica"), "figs": ("Ficus", "carica"),
    "pomegranate": ("Punica", "granatum"), "olive": ("Olea", "europaea"), "peach": ("Prunus", "persica"),
    "nectarine": ("Prunus", "persica"), "apple": ("Malus", "domestica"), "citrus": ("Citrus", "sp."),
    "lemon": ("Citrus", "limon"), "pear": ("Pyrus", "communis"), "loquat": ("Eriobotrya", "japonica"),
    "persimmon": ("Diospyros", "kaki"), "mulberry": ("Morus", "sp."), "grape": ("Vitis", "vinifera"),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Taxon:
    """A species as the descriptors split it; `crop` the common name where the grower wrote one."""

    genus: str = ""
    species: str = ""
    author: str = ""
    crop: str = ""


def taxon_of(text: str | None) -> Taxon:
    """What a species in words means: a botanical name split up, a common name with its botanical one, or a crop."""
    words = " ".join((text or "").split())
    if found := _BINOMIAL.fullmatch(words):
        return Taxon(found[1], found[2], found[3] or "")
    genus, species = _TAXA.get(words.casefold(), ("", ""))
    return Taxon(genus, species, "", words)


def species_of(row: Mapping[str, str]) -> str:
    """The species that a passport's cells name, in the grower's own words where CROPNAME holds them."""
    crop, genus, species = row["CROPNAME"], row["GENUS"], row["SPECIES"]
    known = taxon_of(crop)
    if crop and (not genus or (known.genus, known.species) == (genus, species)):
        return crop
    return " ".join(filter(None, (genus, species or ("sp." if genus else ""), row["SPAUTHOR"])))


def write_date(day: str | None) -> str:
    """An ISO date as YYYYMMDD."""
    return (day or "").replace("-", "")


def read_date(cell: str) -> str | None:
    """The ISO date of a whole YYYYMMDD; None where a part is missing. Raises ValueError for what is no date."""
    parts = _DATE.fullmatch(cell)
    if parts is None or (parts[2] == "--" and parts[3] != "--"):
        raise ValueError(say("is no date written YYYYMMDD, with hyphens for what is missing, such as 201905--"))
    if "--" in (parts[2], parts[3]):
        return None
    return date(int(parts[1]), int(parts[2]), int(parts[3])).isoformat()


def read_ancest(cell: str) -> tuple[str, str] | None:
    """(how it was made, its parent's tag) where ANCEST says it as an export writes it."""
    found = _ANCEST.fullmatch(cell)
    return (found[1], found[2]) if found else None


def split_note(note: str | None) -> dict[str, str]:
    """A note's descriptors by name, and what else it says as REMARKS."""
    told: dict[str, str] = {}
    rest = []
    for line in (note or "").split("\n"):
        found = _LINE.fullmatch(line.strip())
        if found and found[1] in DESCRIPTORS and found[1] not in OF_CARDS and found[1] not in told:
            told[found[1]] = found[2]
        else:
            rest.append(line)
    return told | {"REMARKS": "\n".join(rest).strip()}


def join_note(row: Mapping[str, str]) -> str:
    """The note that holds REMARKS and, a line each, the descriptors that no card has a field for."""
    lines = [row["REMARKS"]]
    lines += [f"{name}: {one_line(row[name])}" for name in DESCRIPTORS if name not in OF_CARDS and row[name]]
    return "\n".join(filter(None, lines))


def one_line(cell: str) -> str:
    """A cell's text in one line."""
    return " ".join(cell.split())


def tidy(cells: Mapping[str, str]) -> dict[str, str]:
    """A passport's filled cells as an export would write them, so that two that mean the same are equal."""
    row = dict.fromkeys(DESCRIPTORS, "") | {name: one_line(cell) for name, cell in cells.items()}
    remarks = [cells.get("REMARKS", "").strip()]
    name, *other_names = (part.strip() for part in row["ACCENAME"].split(";"))
    if other_names:
        remarks.append(f"Other names: {'; '.join(filter(None, other_names))}")
    row["GENUS"] = row["GENUS"][:1].upper() + row["GENUS"][1:]
    species = species_of(row)
    if row["CROPNAME"] and species != row["CROPNAME"]:
        remarks.append(f"Crop: {row['CROPNAME']}")
    taxon = taxon_of(species)
    noted = split_note("\n".join(filter(None, remarks)))
    row = {**row, "GENUS": taxon.genus, "SPECIES": taxon.species, "SPAUTHOR": taxon.author, "CROPNAME": taxon.crop}
    row |= {"ACCENAME": name, "REMARKS": noted.pop("REMARKS")}
    row["ACQDATE"] = "" if row["ACQDATE"] == NO_DATE else row["ACQDATE"]
    return {name: cell or noted.get(name, "") for name, cell in row.items() if cell or name in noted}
