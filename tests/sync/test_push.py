"""Taking changes in: an outcome each, nothing twice, nothing dropped, one bad change spoils no other."""

from __future__ import annotations

import json
import uuid
from datetime import timedelta
from itertools import permutations

import pytest

from server import ids
from server.errors import TooLarge
from server.records.database import execute, read_counter
from server.sync.fields import KINDS
from server.sync.pull import pull
from server.sync.push import ABSENT, ABSENT_OF_LIST, CHANGES_MAX
from server.wording.said import Said
from tests.support.collection import Phone

pytestmark = pytest.mark.usefixtures("collection")
SEEN = "2026-05-03T08:30:00+02:00"


def fields_of(record: str) -> dict[str, object]:
    return next(each["fields"] for each in pull(None, 5000).records if each["id"] == record)


def test_a_change_is_stored_once_however_often_it_comes() -> None:
    phone = Phone()
    tree = phone.tree()
    seen = phone.change("observation", tree=tree, seen_at=SEEN, leaves_fallen=3)
    assert [o.outcome for o in phone.send(seen)] == ["stored"]
    counter = read_counter()
    assert [o.outcome for o in phone.send(seen, seen)] == ["duplicate", "duplicate"]
    assert read_counter() == counter


def test_the_same_id_twice_in_one_request_is_a_duplicate() -> None:
    phone = Phone()
    tree = phone.tree()
    seen = phone.change("observation", tree=tree, seen_at=SEEN)
    assert [o.outcome for o in phone.send(seen, seen)] == ["stored", "duplicate"]


def test_a_known_id_with_other_content_changes_nothing() -> None:
    phone = Phone()
    tree = phone.tree(note="first")
    change = phone.change("tree", tree, note="second")
    phone.send(change)
    phone.send({**change, "set": {"note": "third"}})
    assert fields_of(tree)["note"] == "second"


def test_what_is_pulled_is_what_was_sent() -> None:
    phone = Phone()
    tree = phone.tree()
    sent = {
        "tree": tree, "seen_at": SEEN, "shoots": 6, "leaves_per_shoot": 4.5, "leaves": 27, "leaves_fallen": 0,
        "shoot_cm": 12.5, "fruit_breba": 1, "fruit_main": 0, "damage_percent": 7.5, "causes": "sun;wind",
        "bbch": 15, "soil": "dry", "shoot_leaves": "5;6;;7", "note": "čeká na déšť",
    }  # fmt: skip
    seen = phone.change("observation", **sent)
    phone.send(seen)
    assert fields_of(seen["record"]) == sent


@pytest.mark.parametrize(
    ("kind", "fields", "field"),
    [
        ("observation", {"seen_at": SEEN, "leaves_fallen": -1}, "leaves_fallen"),
        ("observation", {"seen_at": SEEN, "shoots": 10**9}, "shoots"),
        ("observation", {"seen_at": SEEN, "shoots": 10**400}, "shoots"),
        ("observation", {"seen_at": SEEN, "shoots": float("inf")}, "shoots"),
        ("observation", {"seen_at": SEEN, "damage_percent": float("nan")}, "damage_percent"),
        ("observation", {"seen_at": SEEN, "damage_percent": 101}, "damage_percent"),
        ("observation", {"seen_at": SEEN, "leaves": 2.5}, "leaves"),
        ("observation", {"seen_at": SEEN, "leaves": True}, "leaves"),
        ("observation", {"seen_at": SEEN, "leaves": "12"}, "leaves"),
        ("observation", {"seen_at": SEEN, "leafs": 12}, "leafs"),
        ("observation", {"seen_at": SEEN, "causes": "sun;moon"}, "causes"),
        ("observation", {"seen_at": SEEN, "shoot_leaves": "5;6.5"}, "shoot_leaves"),
        ("observation", {"seen_at": SEEN, "shoot_leaves": ";;"}, "shoot_leaves"),
        ("observation", {"seen_at": SEEN, "shoot_leaves": "1;" * 12}, "shoot_leaves"),
        ("tree", {"tag": "4KD7Q0", "marked_shoots": 13}, "marked_shoots"),
        ("observation", {"seen_at": SEEN, "note": "x" * 2001}, "note"),
        ("observation", {"seen_at": SEEN, "note": "\ud800"}, "note"),
        ("observation", {"seen_at": "2026-05-03T08:30:00"}, "seen_at"),
        ("observation", {"seen_at": "2026-05-03"}, "seen_at"),
        ("observation", {"seen_at": "2999-05-03T08:30:00Z"}, "seen_at"),
        ("observation", {"seen_at": "2026-02-30T08:30:00Z"}, "seen_at"),
        ("observation", {"leaves": 3}, "seen_at"),
        ("observation", {"seen_at": SEEN, "tree": str(uuid.uuid4())}, "tree"),
        ("move", {"moved_at": SEEN}, "to_place"),
        ("work", {"done_at": SEEN, "task": "dance"}, "task"),
        ("harvest", {"picked_at": SEEN, "quality": 6}, "quality"),
        ("photo", {"taken_at": SEEN, "sha256": "../../etc/passwd"}, "sha256"),
    ],
)
def test_bad_input_is_refused_by_field_and_parked(kind: str, fields: dict[str, object], field: str) -> None:
    phone = Phone()
    good_tree = phone.tree()
    bad = phone.change(kind, **({"tree": good_tree} | fields))
    good = phone.change("observation", tree=good_tree, seen_at=SEEN)
    refused, stored = phone.send(bad, good)
    assert (refused.outcome, stored.outcome) == ("refused", "stored")
    assert refused.problem is not None
    assert field in [error["field"] for error in refused.problem["errors"]]
    kept = execute("SELECT change_json FROM parked_change WHERE id = ?", (bad["id"],)).fetchone()
    assert json.dumps(json.loads(kept[0])) == json.dumps(bad)


def test_a_refused_change_sent_again_is_refused_again_and_parked_once() -> None:
    phone = Phone()
    bad = phone.change("observation", tree=str(uuid.uuid4()), seen_at=SEEN)
    first, second = phone.send(bad), phone.send(bad)
    assert first[0].problem == second[0].problem
    assert execute("SELECT count(*) FROM parked_change").fetchone()[0] == 1


def test_what_is_no_change_at_all_is_refused_and_parked_too() -> None:
    phone = Phone()
    outcomes = phone.send("rubbish", {}, {"id": 7}, None, [])  # type: ignore[arg-type]
    assert {o.outcome for o in outcomes} == {"refused"}
    assert execute("SELECT count(*) FROM parked_change").fetchone()[0] == 5


def test_a_mended_change_under_a_new_id_is_stored() -> None:
    phone = Phone()
    tree = phone.tree()
    bad = phone.change("observation", tree=tree, seen_at=SEEN, leaves=-5)
    phone.send(bad)
    mended = phone.change("observation", bad["record"], tree=tree, seen_at=SEEN, leaves=5)
    assert [o.outcome for o in phone.send(mended)] == ["stored"]


def test_a_tag_belongs_to_one_tree_and_former_tags_still_find_it() -> None:
    phone = Phone()
    tree = phone.tree()
    old, new = str(fields_of(tree)["tag"]), ids.new_tag_code()
    phone.send(phone.change("tree", tree, tag=new.lower()))
    assert fields_of(tree)["tag"] == new
    assert fields_of(tree)["former_tags"] == [old]
    for taken in (old, new):
        (outcome,) = phone.send(phone.change("tree", tag=taken))
        assert outcome.outcome == "refused"
    phone.send(phone.change("tree", tree, voided=True))
    (outcome,) = phone.send(phone.change("tree", tag=new))
    assert outcome.outcome == "stored", "the tag of a withdrawn tree is free again"


def test_a_tag_goes_from_a_withdrawn_tree_to_another_in_one_request_and_not_back() -> None:
    phone = Phone()
    tree, tag = phone.tree(), ids.new_tag_code()
    phone.send(phone.change("tree", tree, tag=tag))
    withdrawn, new = phone.change("tree", tree, voided=True), phone.change("tree", tag=tag)
    assert [o.outcome for o in phone.send(withdrawn, new)] == ["stored", "stored"]
    (back,) = phone.send(phone.change("tree", tree, voided=False))
    assert back.problem is not None, "its tag is on another tree"
    assert back.problem["errors"][0]["field"] == "voided"
    retagged = phone.change("tree", tree, voided=False, tag=ids.new_tag_code())
    assert [o.outcome for o in phone.send(retagged)] == ["stored"]


def test_a_change_that_lacked_a_record_is_judged_anew_when_it_comes_again() -> None:
    phone, other = Phone(), Phone("other")
    tree = phone.change("tree", tag=ids.new_tag_code())
    seen = other.change("observation", tree=tree["record"], seen_at=SEEN)
    edit, wrong = other.change("observation", seen["record"], leaves=5), other.change("tree", tag="nonsense")
    assert [o.outcome for o in other.send(seen, edit, wrong)] == ["refused"] * 3
    phone.send(tree)
    assert [o.outcome for o in other.send(seen, edit, wrong)] == ["stored", "stored", "refused"]
    assert [o.outcome for o in other.send(seen, edit)] == ["duplicate", "duplicate"]
    assert execute("SELECT id FROM parked_change").fetchall() == [(wrong["id"],)]


def test_a_wrong_check_character_is_named() -> None:
    (outcome,) = Phone().send(Phone().change("tree", tag="ABCDE0"))
    assert outcome.problem is not None
    assert "check character" in outcome.problem["detail"]


def test_an_id_cannot_change_its_kind() -> None:
    phone = Phone()
    tree = phone.tree()
    (outcome,) = phone.send(phone.change("place", tree, place="Yard"))
    assert outcome.outcome == "refused"


def test_a_helper_records_but_edits_no_card() -> None:
    owner, helper = Phone(), Phone(role="helper")
    tree = owner.tree()
    seen, card = helper.send(
        helper.change("observation", tree=tree, seen_at=SEEN), helper.change("tree", tree, note="mine")
    )
    assert (seen.outcome, card.outcome) == ("stored", "refused")


def test_a_reading_needs_low_below_high_also_when_edited_apart() -> None:
    phone = Phone()
    place = phone.change("place", place="Yard")
    reading = phone.change("reading", place=place["record"], date="2026-05-03", t_min_c=4, t_max_c=12)
    crossed = phone.change("reading", reading["record"], t_min_c=13)
    empty = phone.change("reading", place=place["record"], date="2026-05-04")
    assert [o.outcome for o in phone.send(place, reading, crossed, empty)] == ["stored", "stored", "refused", "refused"]


def test_a_forecast_may_lie_ahead_but_not_far() -> None:
    phone = Phone()
    place = phone.change("place", place="Yard")
    near, far = ((ids.now() + timedelta(days=days)).date().isoformat() for days in (3, 40))
    changes = [phone.change("reading", place=place["record"], date=day, t_min_c=1) for day in (near, far)]
    assert [o.outcome for o in phone.send(place, *changes)] == ["stored", "stored", "refused"]


def test_a_batch_over_the_limit_is_refused_whole() -> None:
    with pytest.raises(TooLarge, match=str(CHANGES_MAX)):
        Phone().send(*[{}] * (CHANGES_MAX + 1))


def test_new_records_may_refer_to_each_other_in_one_request() -> None:
    phone = Phone()
    place = phone.change("place", place="Yard", cover="open")
    tree = phone.change("tree", tag=ids.new_tag_code(), place=place["record"])
    walk = phone.change("round", started_at=SEEN, places=[place["record"]])
    seen = phone.change("observation", tree=tree["record"], round=walk["record"], seen_at=SEEN)
    move = phone.change("move", tree=tree["record"], moved_at=SEEN, to_place=place["record"])
    assert {o.outcome for o in phone.send(place, tree, walk, seen, move)} == {"stored"}
    assert fields_of(walk["record"])["places"] == [place["record"]]


def test_a_clock_that_runs_a_year_fast_does_not_rule_the_merge() -> None:
    wrong, right = Phone("wrong"), Phone("right")
    tree = right.tree()
    wrong.send(wrong.change("tree", tree, edited_at="2999-01-01T00:00:00Z", note="from the wrong clock"))
    came_ms = ids.now_ms()
    while ids.now_ms() == came_ms:
        pass  # within one millisecond neither is the later one
    right.send(right.change("tree", tree, note="said later"))
    assert fields_of(tree)["note"] == "said later"


def test_an_older_edit_that_arrives_late_loses_and_stays_in_the_log() -> None:
    early, late = Phone("early"), Phone("late")
    tree = late.tree()
    moment = (ids.now() - timedelta(hours=2)).isoformat()
    older = early.change("tree", tree, edited_at=moment, note="older", source="swap")
    late.send(late.change("tree", tree, note="newer"))
    assert [o.outcome for o in early.send(older)] == ["stored"]
    assert fields_of(tree)["note"] == "newer"
    assert fields_of(tree)["source"] == "swap", "fields merge one by one"
    assert execute("SELECT count(*) FROM change_log WHERE record = ?", (tree,)).fetchone()[0] == 3


def test_a_phone_whose_clock_jumps_back_still_keeps_its_own_order() -> None:
    phone = Phone()
    tree = phone.tree()
    phone.send(phone.change("tree", tree, note="first"))
    phone.send(phone.change("tree", tree, edited_at="2020-01-01T00:00:00Z", note="second"))
    assert fields_of(tree)["note"] == "second"


def test_an_edit_that_comes_late_does_not_beat_its_phones_newer_ones() -> None:
    """Offered again to a restored home, or sent again once a record is there: it keeps its place by `n`."""
    phone = Phone()
    tree = phone.tree()
    hours = [f"2025-05-03T{hour:02d}:00:00Z" for hour in range(8, 12)]
    first, second, third = (
        phone.change("tree", tree, note=f"{n}", source=f"{n}", edited_at=hours[n]) for n in range(3)
    )
    del second["set"]["source"], third["set"]["note"]
    for change in (third, first, second):
        phone.send(change)
    assert fields_of(tree)["note"] == "1"
    assert fields_of(tree)["source"] == "2"
    # A clock that was a year fast then rules no edit that the phone made later.
    fast = phone.change("tree", tree, note="fast", edited_at="2027-05-03T08:00:00Z")
    phone.send(phone.change("tree", tree, note="later", edited_at=hours[3]))
    phone.send(fast)
    assert fields_of(tree)["note"] == "later"


def test_an_edit_that_comes_late_leaves_others_edits_their_time() -> None:
    """Of A's edit, B's after it and A's of something else, B's stands, in whatever order they come."""
    hours = [f"2025-05-03T{hour:02d}:00:00Z" for hour in range(8, 11)]
    for order in permutations(range(3)):
        a, b = Phone("a"), Phone("b")
        tree = a.tree(edited_at="2025-05-01T08:00:00Z")
        edits = [
            (a, a.change("tree", tree, note="a", edited_at=hours[0])),
            (b, b.change("tree", tree, note="b", edited_at=hours[1])),
            (a, a.change("tree", tree, source="a", edited_at=hours[2])),
        ]
        for at in order:
            edits[at][0].send(edits[at][1])
        assert fields_of(tree)["note"] == "b", order


def test_what_was_refused_for_anothers_edit_is_judged_anew_when_it_comes_again() -> None:
    phone, other = Phone("phone"), Phone("other")
    place = other.change("place", place="Porch")
    low = other.change("reading", place=place["record"], date="2025-05-03", t_min_c=1, t_max_c=5)
    taken = other.tree()
    other.send(place, low)
    tag = fields_of(taken)["tag"]
    heir = phone.change("tree", tag=tag)
    seen = phone.change("observation", tree=heir["record"], seen_at=SEEN)
    high = phone.change("reading", low["record"], t_min_c=10)
    assert [each.outcome for each in phone.send(heir, seen, high)] == ["refused"] * 3
    other.send(other.change("tree", taken, voided=True), other.change("reading", low["record"], t_max_c=20))
    assert [each.outcome for each in phone.send(heir, seen, high)] == ["stored"] * 3
    assert execute("SELECT count(*) FROM parked_change").fetchone()[0] == 0


def test_an_outcome_names_the_id_as_it_was_sent() -> None:
    phone = Phone()
    good = phone.change("variety", variety="Amber Lantern")
    bad = phone.change("variety", variety="")
    for change in (good, bad):
        change["id"] = change["id"].upper()
    for expected in ("stored", "duplicate"):
        first, second = phone.send(good, bad)
        assert [(first.id, first.outcome), (second.id, second.outcome)] == [
            (good["id"], expected),
            (bad["id"], "refused"),
        ]


def test_null_clears_a_field_but_not_one_that_is_needed() -> None:
    phone = Phone()
    tree = phone.tree(note="x")
    cleared, kept = phone.send(phone.change("tree", tree, note=None), phone.change("tree", tree, tag=None))
    assert (cleared.outcome, kept.outcome) == ("stored", "refused")
    assert "note" not in fields_of(tree)


def test_a_withdrawn_record_is_pulled_as_withdrawn() -> None:
    phone = Phone()
    seen = phone.change("observation", tree=phone.tree(), seen_at=SEEN)
    phone.send(seen, phone.change("observation", seen["record"], voided=True))
    assert fields_of(seen["record"])["voided"] is True
    phone.send(phone.change("observation", seen["record"], voided=False))
    assert "voided" not in fields_of(seen["record"])


def test_a_refusal_can_be_said_again_in_another_language() -> None:
    phone = Phone()
    tree = phone.tree()
    (outcome,) = phone.send(phone.change("observation", tree=tree, seen_at=SEEN, leaves_fallen=-1))
    assert outcome.problem is not None
    message = outcome.problem["errors"][0]["message"]
    assert isinstance(message, Said) and isinstance(message.values["problem"], Said)
    assert message == outcome.problem["detail"]
    assert message.startswith("leaves_fallen is -1: must lie between 0 and ")


def test_every_kind_that_is_referred_to_has_words_for_its_absence() -> None:
    assert {each for kind in KINDS.values() for each in kind.refers.values()} == ABSENT.keys()
    assert {each for kind in KINDS.values() for each in kind.lists.values()} == ABSENT_OF_LIST.keys()
