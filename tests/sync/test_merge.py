"""Merging against a plain model: any devices, any clocks, any order of arrival."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from server.sync.merge import LoggedChange, effective_ms, fold

CHANGES = st.lists(
    st.builds(
        LoggedChange,
        effective_ms=st.integers(0, 20),
        device=st.sampled_from("abc"),
        n=st.integers(1, 9),
        set=st.dictionaries(st.sampled_from(["note", "source", "pot_litres"]), st.one_of(st.none(), st.integers(0, 9))),
    ),
    unique_by=lambda change: change.order,
    max_size=12,
)


@given(CHANGES, st.randoms())
def test_the_state_does_not_depend_on_the_order_of_arrival(changes: list[LoggedChange], random: object) -> None:
    shuffled = list(changes)
    random.shuffle(shuffled)  # type: ignore[attr-defined]
    assert fold(shuffled) == fold(changes)


@given(CHANGES)
def test_each_field_is_what_the_last_change_that_names_it_says(changes: list[LoggedChange]) -> None:
    for field in ("note", "source", "pot_litres"):
        naming = [change for change in changes if field in change.set]
        last = max(naming, key=lambda change: change.order).set[field] if naming else None
        assert fold(changes).get(field) == last


@given(st.lists(st.tuples(st.integers(-(10**6), 10**6), st.integers(0, 1000)), max_size=20))
def test_one_device_never_runs_backwards_nor_ahead_of_the_server(edits: list[tuple[int, int]]) -> None:
    last, received = 0, 0
    for edited, pause in edits:
        received += pause
        effective = effective_ms(edited, received, last)
        assert last <= effective <= max(received, last)
        last = effective


def test_false_is_a_value_and_only_withdrawal_falls_back_to_nothing() -> None:
    change = LoggedChange(1, "a", 1, {"heated": False, "voided": False, "light_percent": 0})
    assert fold([change]) == {"heated": False, "light_percent": 0}
