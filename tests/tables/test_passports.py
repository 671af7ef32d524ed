"""Passports out and in: what each descriptor holds, other collections' accessions, once only, what is refused.

Descriptors and codes: Multi-Crop Passport Descriptors V.2.1, FAO/Bioversity International 2015.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from server.api.exchange import PASSPORTS_BYTES_MAX
from server.errors import LeafwalkError, Refused
from server.records.database import open_database
from server.tables.passport_form import DESCRIPTORS, Taxon, read_date, taxon_of, tidy
from server.tables.passports import Holder, passports_csv
from server.tables.passports_in import import_passports
from tests.support.collection import Phone, new_postgresql_database
from tests.support.server import Visitor, run_leafwalk
from tests.tables.conftest import TAG_1, TAG_2, TAG_3, Write, ids_of, log_length, records, tag_code


def rows_of(data: bytes) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(data.decode(), newline=""), strict=True))


def filled(row: dict[str, str]) -> dict[str, str]:
    return {name: cell for name, cell in row.items() if cell}


def fill(phone: Phone) -> None:
    """A mother, a cutting of it by a batch, another's offspring, descriptors in notes, and two not kept."""
    fig = phone.change("variety", variety="Amber Bell", species="fig", origin_country="ITA")
    lemon = phone.change("variety", variety="Sourwick", species="Citrus × limon (L.) Osbeck")
    mother = phone.change(
        "tree", tag=TAG_1, variety=fig["record"], source="a friend", donor_number="FC 12", started_on="2019-05-03",
        note="leans\nSAMPSTAT: 300\nsoft wood",
    )  # fmt: skip
    batch = phone.change("batch", batch="Winter", parent=mother["record"], method="cutting")
    cutting = phone.change("tree", tag=TAG_2, variety=fig["record"], batch=batch["record"])
    seedling = phone.change(
        "tree", tag=TAG_3, variety=lemon["record"], parent=mother["record"], note="ACQDATE: 2021----\n=odd"
    )
    retired = phone.change("tree", tag=tag_code(20_000_050), standing="retired")
    gone = phone.change("tree", tag=tag_code(20_000_051))
    outcomes = phone.send(
        *(fig, lemon, mother, batch, cutting, seedling, retired, gone),
        phone.change("tree", gone["record"], voided=True),
    )
    assert {each.outcome for each in outcomes} == {"stored"}


@pytest.mark.usefixtures("collection")
class TestOut:
    def test_an_accession_is_a_tree_under_its_tag(self) -> None:
        fill(Phone())
        data = passports_csv()
        assert data.decode().splitlines()[0].split(",") == list(DESCRIPTORS)
        by_tag = {row["ACCENUMB"]: filled(row) for row in rows_of(data)}
        assert list(by_tag) == sorted([TAG_1, TAG_2, TAG_3])
        assert by_tag[TAG_1] == {
            **{"ACCENUMB": TAG_1, "GENUS": "Ficus", "SPECIES": "carica", "CROPNAME": "fig", "ACCENAME": "Amber Bell"},
            **{"ACQDATE": "20190503", "ORIGCTY": "ITA", "SAMPSTAT": "300", "DONORNAME": "a friend"},
            **{"DONORNUMB": "FC 12", "STORAGE": "20", "REMARKS": "leans\nsoft wood"},
        }
        assert by_tag[TAG_2]["ANCEST"] == f"cutting of {TAG_1}"
        assert by_tag[TAG_3] == {
            **{"ACCENUMB": TAG_3, "GENUS": "Citrus", "SPECIES": "× limon", "SPAUTHOR": "(L.) Osbeck"},
            **{"ACCENAME": "Sourwick", "ACQDATE": "2021----", "ANCEST": f"offspring of {TAG_1}", "STORAGE": "20"},
            "REMARKS": "'=odd",  # no spreadsheet runs it
        }

    def test_what_holds_for_all_is_given_once_and_a_trees_own_code_stands(self) -> None:
        fill(Phone())
        rows = rows_of(passports_csv(Holder("ITA001", "500", "23")))
        assert {row["INSTCODE"] for row in rows} == {"ITA001"}
        assert {row["COLLSRC"] for row in rows} == {"23"}
        assert sorted(row["SAMPSTAT"] for row in rows) == ["300", "500", "500"]
        for holder in (Holder(institute="Italy"), Holder(status="501"), Holder(acquired="7")):
            with pytest.raises(Refused):
                passports_csv(holder)


@pytest.mark.usefixtures("collection")
class TestIn:
    def test_passports_make_the_same_passports_elsewhere(
        self, request: pytest.FixtureRequest, collection: str, tmp_path: Path
    ) -> None:
        fill(Phone())
        out = passports_csv()
        (tmp_path / "p.csv").write_bytes(out)
        length = log_length()
        summary = import_passports(tmp_path / "p.csv")
        assert log_length() == length, "its own passports tell a collection nothing new"
        assert summary.counts["trees"] == {"unchanged": 3}
        elsewhere = str(tmp_path / "elsewhere.db")
        if "postgresql" in collection:
            elsewhere = new_postgresql_database(request.getfixturevalue("postgresql"))
        open_database(elsewhere)
        summary = import_passports(tmp_path / "p.csv")
        assert (summary.counts["varieties"]["new"], summary.counts["trees"]["new"]) == (2, 3)
        assert passports_csv() == out
        ids = dict(zip((tree["tag"] for tree in records("tree")), ids_of("tree"), strict=True))
        parents = {tree["tag"]: tree.get("parent") for tree in records("tree")}
        assert parents == {TAG_1: None, TAG_2: ids[TAG_1], TAG_3: ids[TAG_1]}
        [fig] = [each for each in records("variety") if each["variety"] == "Amber Bell"]
        assert fig == {"variety": "Amber Bell", "species": "fig", "origin_country": "ITA"}
        length = log_length()
        import_passports(tmp_path / "p.csv")
        assert log_length() == length

    def test_another_collections_accession_gets_a_tag_and_keeps_its_number(self, write_files: Write) -> None:
        head = "INSTCODE;ACCENUMB;GENUS;SPECIES;CROPNAME;ACCENAME;ACQDATE;SAMPSTAT;DONORNUMB;STORAGE;REMARKS\n"
        file = write_files(
            abroad=head
            + "ESP119;BGE 1234;ficus;carica;higuera;Cuello Largo;19870000;300;HG 7;20;from a farm\n".replace(
                "0000", "----"
            )
            + "ESP119;BGE 77;Punica;granatum;;Rojo;19990412;;;;\n"
        )
        summary = import_passports(file / "abroad.csv")
        assert (summary.counts["varieties"]["new"], summary.counts["trees"]["new"]) == (2, 2)
        fig, other = sorted(records("tree"), key=lambda tree: tree["donor_number"], reverse=True)[::-1]
        assert {tree["source"] for tree in (fig, other)} == {"ESP119"}
        assert (fig["donor_number"], other["donor_number"]) == ("BGE 1234", "BGE 77")
        assert fig["note"] == "from a farm\nCrop: higuera\nIts donor there: HG 7\nACQDATE: 1987----\nSAMPSTAT: 300"
        assert other["started_on"] == "1999-04-12"
        species = {each["variety"]: each["species"] for each in records("variety")}
        assert species == {"Cuello Largo": "Ficus carica", "Rojo": "Punica granatum"}
        length = log_length()
        again = import_passports(file / "abroad.csv")
        assert again.counts["trees"] == {"unchanged": 2}
        assert log_length() == length

    def test_only_what_is_new_changes_and_a_variety_keeps_its_words(self, write_files: Write) -> None:
        fill(Phone())
        file = write_files(
            p=f"ACCENUMB,ACCENAME,GENUS,SPECIES,DONORNAME\n{TAG_1},Amber Bell,Ficus,carica,the nursery\n"
        )
        before = {tree["tag"]: tree for tree in records("tree")}
        summary = import_passports(file / "p.csv")
        assert summary.counts["trees"] == {"changed": 1}
        assert summary.counts["varieties"] == {"unchanged": 1}
        after = {tree["tag"]: tree for tree in records("tree")}
        assert after[TAG_1] == before[TAG_1] | {"source": "the nursery"}
        new_tree = write_files(p=f"ACCENUMB,ACCENAME,GENUS,SPECIES\n{tag_code(20_000_077)},Amber Bell,Ficus,carica\n")
        import_passports(new_tree / "p.csv")
        assert len(ids_of("variety")) == 2
        assert "fig" in {each.get("species") for each in records("variety")}

    def test_a_parent_that_is_not_there_is_kept_in_words(self, write_files: Write) -> None:
        file = write_files(p=f"ACCENUMB,ANCEST\n{TAG_1},cutting of {TAG_2}\n{TAG_3},Amber Bell × Sourwick\n")
        import_passports(file / "p.csv")
        notes = {tree["tag"]: (tree["note"], tree.get("parent")) for tree in records("tree")}
        assert notes == {
            TAG_1: (f"ANCEST: cutting of {TAG_2}", None),
            TAG_3: ("ANCEST: Amber Bell × Sourwick", None),
        }
        assert {row["ANCEST"] for row in rows_of(passports_csv())} == {f"cutting of {TAG_2}", "Amber Bell × Sourwick"}

    @pytest.mark.parametrize(
        ("text", "words"),
        [
            ("ACCENUMB,TREENAME\nX,1\n", "column treename: Unknown column"),
            ("GENUS\nFicus\n", "column accenumb: This column is missing"),
            (f"ACCENUMB,GENUS\n,Ficus\n{TAG_1},Ficus\n", "line 2, column accenumb: This cell is empty"),
            (f"ACCENUMB\n{TAG_1}\n{TAG_1.lower()}\n", "line 3, column accenumb: .* stands in line 2 too"),
            (f"ACCENUMB,SAMPSTAT\n{TAG_1},501\n", "line 2, column sampstat: “501” is no code of SAMPSTAT; there"),
            (f"ACCENUMB,STORAGE\n{TAG_1},20;21\n", "“20;21” is no code of STORAGE"),
            (f"ACCENUMB,ACQDATE\n{TAG_1},1.5.2020\n", "column acqdate: “1.5.2020” is no date written YYYYMMDD"),
            (f"ACCENUMB,ACQDATE\n{TAG_1},20200230\n", "column acqdate: “20200230” is no day of the calendar"),
            (f"ACCENUMB,ACCENAME,ORIGCTY\n{TAG_1},A,Italy\n", "column origcty: “Italy” must be a country's three"),
            (f"ACCENUMB,REMARKS\n{TAG_1},{'x' * 2001}\n", "column remarks: .* has 2001 characters"),
            (
                f"ACCENUMB,ACCENAME,GENUS,SPECIES\n{TAG_1},A,Ficus,carica\n{TAG_2},A,Punica,granatum\n",
                "The same variety stands in",
            ),
        ],
    )  # fmt: skip
    def test_what_is_wrong_is_told_and_nothing_is_kept(self, write_files: Write, text: str, words: str) -> None:
        with pytest.raises(Refused, match=f"(?s){words}"):
            import_passports(write_files(p=text) / "p.csv")
        assert log_length() == 0


class TestForm:
    @pytest.mark.parametrize(
        ("words", "taxon"),
        [
            ("fig", Taxon("Ficus", "carica", "", "fig")),
            ("Ficus carica", Taxon("Ficus", "carica")),
            ("Ficus carica L.", Taxon("Ficus", "carica", "L.")),
            ("Citrus sp.", Taxon("Citrus", "sp.")),
            ("dragon fruit", Taxon("", "", "", "dragon fruit")),
            (None, Taxon()),
        ],
    )
    def test_a_species_in_words_is_split(self, words: str | None, taxon: Taxon) -> None:
        assert taxon_of(words) == taxon

    def test_dates_may_lack_parts(self) -> None:
        # The standard's own examples: 197506-- and 1975----.
        assert [read_date(cell) for cell in ("197506--", "1975----", "19750612")] == [None, None, "1975-06-12"]
        for wrong in ("1975--12", "1975", "1975061", "19751312", "soon"):
            with pytest.raises(ValueError):
                read_date(wrong)

    @given(
        st.dictionaries(
            st.sampled_from(DESCRIPTORS), st.text(max_size=30) | st.sampled_from(["Ficus", "carica", "fig", "A;B"])
        )
    )
    def test_tidying_twice_is_tidying_once(self, cells: dict[str, str]) -> None:
        once = tidy(cells)
        assert tidy(once) == once


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.dictionaries(
            st.sampled_from(sorted(set(DESCRIPTORS) - {"ACCENUMB"})),
            st.text(st.characters(codec="utf-8", exclude_categories=("Cc",)), max_size=30)
            | st.sampled_from(
                ["Ficus", "carica", "20", "300", "2019----", "20190503", "A;B", "ITA", f"graft of {TAG_1}"]
            ),
            max_size=6,
        ),
        max_size=3,
    )
)
def test_whatever_a_file_says_goes_in_whole_and_once_or_not_at_all(
    tmp_path_factory: pytest.TempPathFactory, rows: list[dict[str, str]]
) -> None:
    folder = tmp_path_factory.mktemp("p")
    open_database(str(folder / "one.db"))
    with (folder / "p.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, DESCRIPTORS)
        writer.writeheader()
        for row, number in zip(rows, (TAG_1, "BGE 5", TAG_2), strict=False):
            writer.writerow({"ACCENUMB": number, **row})
    try:
        import_passports(folder / "p.csv")
    except LeafwalkError as refused:
        assert refused.message
        assert log_length() == 0
        return
    length, out = log_length(), passports_csv()
    import_passports(folder / "p.csv")
    assert log_length() == length
    (folder / "out.csv").write_bytes(out)
    import_passports(folder / "out.csv")
    assert log_length() == length
    assert passports_csv() == out


def test_the_commands_write_and_read_passports(home: Path, tmp_path: Path) -> None:
    file, out = tmp_path / "in.csv", tmp_path / "out.csv"
    file.write_text(f"ACCENUMB,ACCENAME,CROPNAME\n{TAG_1},Amber Bell,fig\n", encoding="utf-8")
    done = run_leafwalk(home, "import-passports", str(file))
    assert done.stdout.splitlines() == [
        "varieties: 1 new, 0 changed, 0 unchanged",
        "trees: 1 new, 0 changed, 0 unchanged",
    ]
    assert "0 new, 0 changed, 1 unchanged" in run_leafwalk(home, "import-passports", str(file)).stdout
    assert (
        run_leafwalk(home, "passports", "--out", str(out), "--status", "500").stdout == f"The passports are in {out}\n"
    )
    [row] = rows_of(out.read_bytes())
    assert (row["ACCENUMB"], row["GENUS"], row["SAMPSTAT"]) == (TAG_1, "Ficus", "500")
    refused = run_leafwalk(home, "passports", "--out", str(out), "--status", "5")
    assert (refused.returncode, refused.stdout) == (1, "")
    assert run_leafwalk(home, "import-passports", str(tmp_path / "no.csv")).returncode == 1


def test_an_owner_sends_passports(owner: Visitor, helper: Visitor) -> None:
    data = f"ACCENUMB,ACCENAME,CROPNAME\n{TAG_1},Amber Bell,fig\n".encode()
    assert helper.call("POST", "/passports", data=data, content_type="text/csv").status_code == 403
    answer = owner.call("POST", "/passports", data=data, content_type="text/csv")
    assert answer.json == {
        "lines": ["varieties: 1 new, 0 changed, 0 unchanged", "trees: 1 new, 0 changed, 0 unchanged"],
        "span": "1-2",
    }
    again = owner.call("POST", "/passports", data=data, content_type="text/csv")
    assert again.json["lines"][1] == "trees: 0 new, 0 changed, 1 unchanged"
    wrong = owner.call("POST", "/passports", data=b"ACCENUMB,ACCENAME\n,Amber Bell\n", content_type="text/csv")
    assert (wrong.status_code, wrong.mimetype) == (422, "application/problem+json")
    assert wrong.json["errors"][0]["field"] == "The file, line 2, column accenumb"
    assert wrong.json["detail"].splitlines()[1].startswith("The file, line 2, column accenumb: This cell is empty")
    assert owner.call("POST", "/passports", data=b" " * (PASSPORTS_BYTES_MAX + 1)).status_code == 413


def test_any_paired_device_fetches_the_passports(owner: Visitor, helper: Visitor) -> None:
    owner.tree(tag=TAG_1)
    answer = helper.call("GET", "/passports.csv?institute=ITA001")
    assert (answer.status_code, answer.mimetype) == (200, "text/csv")
    assert [(row["INSTCODE"], row["ACCENUMB"]) for row in rows_of(answer.data)] == [("ITA001", TAG_1)]
    assert owner.call("GET", "/passports.csv?status=7").status_code == 422
