"""Chains of parents: a tree that is its own parent is refused, a ring of several is told, none does harm."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from server.config import Config
from server.errors import Refused
from server.keeping.checking import check
from server.records.pedigree import loops, parents_of, tags_of_loops
from server.tables.importing import import_files
from server.tables.passports import passports_csv
from server.tables.passports_in import import_passports
from tests.support.collection import Phone
from tests.tables.conftest import TAG_1, TAG_2, TAG_3, Write, folder, log_length, write_files

__all__ = ["folder", "write_files"]


def made(phone: Phone, *tags: str) -> list[str]:
    """New trees on these tags; their ids."""
    changes = [phone.change("tree", tag=tag) for tag in tags]
    assert {outcome.outcome for outcome in phone.send(*changes)} == {"stored"}
    return [change["record"] for change in changes]


def by_walking(parents: dict[int, int]) -> set[frozenset[int]]:
    """The rings, found the slow way: from each tree on, as many steps as there are trees."""
    rings = set()
    for start, parent in parents.items():
        seen = [start, parent]
        while seen[-1] in parents and seen[-1] != start and len(seen) <= len(parents):
            seen.append(parents[seen[-1]])
        if seen[-1] == start:
            rings.add(frozenset(seen))
    return rings


@given(st.dictionaries(st.integers(0, 12), st.integers(0, 12)))
def test_every_ring_is_found_once_and_nothing_else(parents: dict[int, int]) -> None:
    found = loops({f"{child:02}": f"{parent:02}" for child, parent in parents.items()})
    assert {frozenset(int(tree) for tree in ring) for ring in found} == by_walking(parents)
    assert len(found) == len(by_walking(parents))
    for ring in found:
        assert all(parents[int(child)] == int(parent) for child, parent in zip(ring, [*ring[1:], ring[0]], strict=True))


def test_a_long_chain_is_walked_once() -> None:
    length = 200_000
    chain = {f"{n:06}": f"{n + 1:06}" for n in range(length)}
    assert loops(chain) == []
    [ring] = loops(chain | {f"{length:06}": "000000"})
    assert len(ring) == length + 1


@pytest.mark.usefixtures("collection")
class TestSync:
    def test_a_tree_that_is_its_own_parent_is_refused_and_spoils_no_other_change(self) -> None:
        phone = Phone()
        tree = phone.change("tree", tag=TAG_1)
        own = phone.change("tree", tree["record"], parent=tree["record"])
        note = phone.change("tree", tree["record"], note="leans")
        new = phone.change("tree", tag=TAG_2)
        new["set"]["parent"] = new["record"]
        outcomes = phone.send(tree, own, note, new)
        assert [each.outcome for each in outcomes] == ["stored", "refused", "stored", "refused"]
        assert outcomes[1].problem is not None
        assert outcomes[1].problem["errors"][0]["message"].startswith("A tree can't be its own parent")

    def test_what_two_phones_say_in_either_order_ends_alike_and_the_check_tells_of_a_ring(self) -> None:
        one, other = Phone("one"), Phone("other")
        first, second, third = made(one, TAG_1, TAG_2, TAG_3)
        batch = one.change("batch", batch="Winter", parent=third)
        changes = [
            (one, one.change("tree", first, parent=second)),
            (other, other.change("tree", second, parent=first)),
            (one, batch),
            (other, other.change("tree", third, batch=batch["record"])),
        ]
        for phone, change in changes:
            (outcome,) = phone.send(change)
            assert outcome.outcome == "stored"
        assert set(tags_of_loops()) == {first, second, third}
        assert parents_of() == {first: second, second: first, third: third}
        # The later word of either phone mends it.
        one.send(one.change("tree", first, parent=None), one.change("batch", batch["record"], voided=True))
        assert tags_of_loops() == {}

    def test_withdrawn_trees_close_no_ring(self) -> None:
        phone = Phone()
        first, second = made(phone, TAG_1, TAG_2)
        phone.send(phone.change("tree", first, parent=second), phone.change("tree", second, parent=first))
        phone.send(phone.change("tree", second, voided=True))
        assert tags_of_loops() == {}

    def test_trees_in_a_ring_go_out_as_passports_and_come_in_again(self, write_files: Write) -> None:
        phone = Phone()
        first, second = made(phone, TAG_1, TAG_2)
        phone.send(phone.change("tree", first, parent=second), phone.change("tree", second, parent=first))
        out = write_files(p=passports_csv())
        length = log_length()
        import_passports(out / "p.csv")
        assert log_length() == length


@pytest.mark.usefixtures("collection")
class TestImports:
    @pytest.mark.parametrize(
        "files",
        [
            {"trees": f"tag,parent\n{TAG_1},{TAG_2}\n{TAG_2},{TAG_3}\n{TAG_3},{TAG_1}\n"},
            {
                "trees": f"tag,parent,batch\n{TAG_1},{TAG_2},\n{TAG_2},,Winter\n",
                "batches": f"batch,parent\nWinter,{TAG_1}\n",
            },
        ],
    )  # fmt: skip
    def test_an_import_that_would_close_a_ring_is_refused_whole(
        self,
        write_files: Write,
        files: dict[str, str],
    ) -> None:
        with pytest.raises(
            Refused, match=f"line 2, column parent: A tree would descend from itself: {TAG_1} from {TAG_2}"
        ):
            import_files([write_files(**files)])
        assert log_length() == 0

    def test_a_batch_that_would_close_a_ring_is_refused(self, write_files: Write) -> None:
        import_files([write_files(trees=f"tag,parent,batch\n{TAG_1},{TAG_2},\n{TAG_2},,Winter\n")])
        length = log_length()
        with pytest.raises(Refused, match=r"batches\.csv, line 2, column parent: A tree would descend from itself"):
            import_files([write_files(batches=f"batch,parent\nWinter,{TAG_1}\n").joinpath("batches.csv")])
        assert log_length() == length

    def test_a_tree_of_its_own_is_told_with_its_line(self, write_files: Write) -> None:
        with pytest.raises(Refused, match="line 2, column parent: A tree can't be its own parent"):
            import_files([write_files(trees=f"tag,parent\n{TAG_1},{TAG_1}\n")])

    def test_a_ring_that_phones_made_keeps_no_other_rows_out(self, write_files: Write) -> None:
        phone = Phone()
        first, second = made(phone, TAG_1, TAG_2)
        phone.send(phone.change("tree", first, parent=second), phone.change("tree", second, parent=first))
        import_files([write_files(trees=f"tag,parent\n{TAG_3},{TAG_1}\n")])
        assert len(parents_of()) == 3

    def test_passports_that_would_close_a_ring_are_refused(self, write_files: Write) -> None:
        file = write_files(p=f"ACCENUMB,ANCEST\n{TAG_1},graft of {TAG_2}\n{TAG_2},seedling of {TAG_1}\n")
        with pytest.raises(Refused, match="A tree would descend from itself"):
            import_passports(file / "p.csv")
        assert log_length() == 0


def test_the_check_names_a_ring_once_with_what_to_do(tmp_path, sqlite_collection: str) -> None:  # type: ignore[no-untyped-def]
    assert sqlite_collection
    phone = Phone()
    first, second = made(phone, TAG_1, TAG_2)
    phone.send(phone.change("tree", first, parent=second))
    assert not [fault for fault in check(Config(tmp_path)).faults if fault.sort == "parent"]
    phone.send(phone.change("tree", second, parent=first))
    [fault] = [fault for fault in check(Config(tmp_path)).faults if fault.sort == "parent"]
    assert fault.count == 1
    assert set(fault.named[0].split(" from ")) == {TAG_1, TAG_2}
    assert "correct its parent" in fault.advice
