"""The tables as peewee models; a record's column names are the wire's field names."""

from __future__ import annotations

import peewee as pw

from server.records.database import database


class Model(pw.Model):
    """Binds every model to the one open database."""

    class Meta:
        """Peewee's settings."""

        database = database


class Setting(Model):
    """One named value of the collection, as JSON: epoch, collection, time_zone, public_url, …"""

    name = pw.TextField(primary_key=True)
    value = pw.TextField()


class Counter(Model):
    """The one counter, `seq`: the number of the newest change."""

    name = pw.TextField(primary_key=True)
    value = pw.BigIntegerField()


class Device(Model):
    """A paired phone, or a source on this computer (import, demonstration) that has no token."""

    id = pw.TextField(primary_key=True)
    name = pw.TextField()
    role = pw.TextField()
    token_hash = pw.TextField(null=True, unique=True)
    paired_ms = pw.BigIntegerField()
    seen_ms = pw.BigIntegerField(null=True)
    revoked_ms = pw.BigIntegerField(null=True)
    last_n = pw.BigIntegerField(default=0)
    last_effective_ms = pw.BigIntegerField(default=0)


class Pairing(Model):
    """A one-time code that lets one device in; only its hash is kept."""

    code_hash = pw.TextField(primary_key=True)
    role = pw.TextField()
    expires_ms = pw.BigIntegerField()
    tries_left = pw.BigIntegerField()
    used_ms = pw.BigIntegerField(null=True)


class ChangeLog(Model):
    """Every stored change, in commit order: the history of each record, and what its state is computed from."""

    seq = pw.BigIntegerField(primary_key=True)
    id = pw.TextField(unique=True)
    device = pw.ForeignKeyField(Device, column_name="device")
    n = pw.BigIntegerField()
    kind = pw.TextField()
    record = pw.TextField(index=True)
    edited_at = pw.TextField()
    effective_ms = pw.BigIntegerField()
    received_ms = pw.BigIntegerField()
    set_json = pw.TextField()
    # Whether set_json is all that the record holds since this change; None in old entries, where nobody looked.
    whole = pw.BooleanField(null=True)

    class Meta:
        """Peewee's settings."""

        table_name = "change_log"


class ParkedChange(Model):
    """A change that was refused, kept whole with its reason."""

    id = pw.TextField(primary_key=True)
    device = pw.ForeignKeyField(Device, column_name="device")
    received_ms = pw.BigIntegerField()
    change_json = pw.TextField()
    problem_json = pw.TextField()

    class Meta:
        """Peewee's settings."""

        table_name = "parked_change"


class Record(Model):
    """What every record has: its id, the change that last touched it, and whether it was withdrawn."""

    id = pw.TextField(primary_key=True)
    seq = pw.BigIntegerField(unique=True)
    voided = pw.BooleanField()


class Variety(Record):
    """A card: a named variety of a species."""

    variety = pw.TextField()
    species = pw.TextField(null=True)
    origin_country = pw.TextField(null=True)
    note = pw.TextField(null=True)


class Place(Record):
    """A card: where trees stand, and under what cover; `walk` is a JSON list of tree ids in walking order."""

    place = pw.TextField()
    cover = pw.TextField(null=True)
    light_percent = pw.DoubleField(null=True)
    heated = pw.BooleanField(null=True)
    latitude = pw.DoubleField(null=True)
    walk = pw.TextField(null=True)
    note = pw.TextField(null=True)


class Tree(Record):
    """A card: one tree in its pot; place and pot are those it started with."""

    tag = pw.TextField()
    variety = pw.ForeignKeyField(Variety, column_name="variety", null=True)
    place = pw.ForeignKeyField(Place, column_name="place", null=True)
    pot_litres = pw.DoubleField(null=True)
    source = pw.TextField(null=True)
    started_on = pw.TextField(null=True)
    standing = pw.TextField(null=True)
    position = pw.TextField(null=True)
    marked_shoots = pw.BigIntegerField(null=True)
    # Text, not references: rows go in table by table, and a tree may name one that comes after it.
    parent = pw.TextField(null=True)
    batch = pw.TextField(null=True)
    donor_number = pw.TextField(null=True)
    decision = pw.TextField(null=True)
    decided_on = pw.TextField(null=True)
    note = pw.TextField(null=True)


class Tag(Model):
    """A code that was printed or given to a tree; a tree's former codes stay and still find it."""

    code = pw.TextField(primary_key=True)
    tree = pw.ForeignKeyField(Tree, column_name="tree", null=True)
    given_ms = pw.BigIntegerField(null=True)
    printed_ms = pw.BigIntegerField(null=True)
    code_mm = pw.DoubleField(null=True)


class Round(Record):
    """One walk, from start to finish; `places` is a JSON list of place ids."""

    started_at = pw.TextField()
    finished_at = pw.TextField(null=True)
    places = pw.TextField(null=True)
    note = pw.TextField(null=True)


class Fact(Record):
    """A record of one moment; `at_s` is that moment in seconds since 1970, for order and for ranges."""

    at_s = pw.BigIntegerField()


class Observation(Fact):
    """What was seen and counted on one tree."""

    tree = pw.ForeignKeyField(Tree, column_name="tree")
    round = pw.ForeignKeyField(Round, column_name="round", null=True)
    seen_at = pw.TextField()
    shoots = pw.BigIntegerField(null=True)
    leaves_per_shoot = pw.DoubleField(null=True)
    leaves = pw.BigIntegerField(null=True)
    leaves_fallen = pw.BigIntegerField(null=True)
    shoot_cm = pw.DoubleField(null=True)
    fruit_breba = pw.BigIntegerField(null=True)
    fruit_main = pw.BigIntegerField(null=True)
    damage_percent = pw.DoubleField(null=True)
    causes = pw.TextField(null=True)
    bbch = pw.BigIntegerField(null=True)
    soil = pw.TextField(null=True)
    shoot_leaves = pw.TextField(null=True)
    leaf_cm2 = pw.DoubleField(null=True)
    part = pw.TextField(null=True)
    note = pw.TextField(null=True)


class Move(Fact):
    """A tree was carried to a place."""

    tree = pw.ForeignKeyField(Tree, column_name="tree")
    round = pw.ForeignKeyField(Round, column_name="round", null=True)
    moved_at = pw.TextField()
    to_place = pw.ForeignKeyField(Place, column_name="to_place")


class Work(Fact):
    """A task done on a tree; `amount` is litres for pots and water, fruits for thinning."""

    tree = pw.ForeignKeyField(Tree, column_name="tree")
    round = pw.ForeignKeyField(Round, column_name="round", null=True)
    done_at = pw.TextField()
    task = pw.TextField()
    amount = pw.DoubleField(null=True)
    note = pw.TextField(null=True)


class Reading(Record):
    """A day's lowest and highest temperature in a place; a date ahead is a forecast."""

    place = pw.ForeignKeyField(Place, column_name="place")
    date = pw.TextField()
    t_min_c = pw.DoubleField(null=True)
    t_max_c = pw.DoubleField(null=True)


class Harvest(Fact):
    """Fruit picked from a tree."""

    tree = pw.ForeignKeyField(Tree, column_name="tree")
    picked_at = pw.TextField()
    fruit = pw.TextField(null=True)
    weight_g = pw.DoubleField(null=True)
    quality = pw.BigIntegerField(null=True)


class Photo(Fact):
    """A picture taken of a tree; the file is found by the SHA-256 of what was sent."""

    sha256 = pw.TextField()
    tree = pw.ForeignKeyField(Tree, column_name="tree", null=True)
    observation = pw.ForeignKeyField(Observation, column_name="observation", null=True)
    taken_at = pw.TextField()
    note = pw.TextField(null=True)


class Batch(Record):
    """A card: cuttings (or layers, grafts, seeds) of one day, and what became of them."""

    batch = pw.TextField()
    variety = pw.ForeignKeyField(Variety, column_name="variety", null=True)
    parent = pw.ForeignKeyField(Tree, column_name="parent", null=True)
    method = pw.TextField(null=True)
    taken_on = pw.TextField(null=True)
    taken = pw.BigIntegerField(null=True)
    rooted = pw.BigIntegerField(null=True)
    failed = pw.BigIntegerField(null=True)
    note = pw.TextField(null=True)


class Job(Record):
    """A card: something to be done, by the grower's own entry, or what became of one that the reports asked for.

    `key` names the computed job that it answers; `done_on`, `put_off_to` and `dropped` say how.
    """

    job = pw.TextField()
    key = pw.TextField(null=True)
    task = pw.TextField()
    tree = pw.ForeignKeyField(Tree, column_name="tree", null=True)
    place = pw.ForeignKeyField(Place, column_name="place", null=True)
    to_place = pw.ForeignKeyField(Place, column_name="to_place", null=True)
    amount = pw.DoubleField(null=True)
    due_on = pw.TextField(null=True)
    put_off_to = pw.TextField(null=True)
    done_on = pw.TextField(null=True)
    dropped = pw.BooleanField(null=True)
    note = pw.TextField(null=True)


class Lesson(Record):
    """A card: a note that comes back at a day of the year, a heat sum, or a piece of work."""

    lesson = pw.TextField()
    variety = pw.ForeignKeyField(Variety, column_name="variety", null=True)
    place = pw.ForeignKeyField(Place, column_name="place", null=True)
    tree = pw.ForeignKeyField(Tree, column_name="tree", null=True)
    on_day = pw.TextField(null=True)
    degree_days = pw.DoubleField(null=True)
    task = pw.TextField(null=True)
    learned_on = pw.TextField(null=True)
    heeded_on = pw.TextField(null=True)


class PhotoFile(Model):
    """A photo file that has arrived: the hash it was sent under and the hash of what was kept."""

    sha256 = pw.TextField(primary_key=True)
    stored_sha256 = pw.TextField()
    size_bytes = pw.BigIntegerField()
    width_px = pw.BigIntegerField()
    height_px = pw.BigIntegerField()
    received_ms = pw.BigIntegerField()

    class Meta:
        """Peewee's settings."""

        table_name = "photo_file"


# The wire's kinds, in an order in which none refers to a later one.
RECORD_MODELS: dict[str, type[Record]] = {
    "variety": Variety,
    "place": Place,
    "tree": Tree,
    "batch": Batch,
    "round": Round,
    "observation": Observation,
    "move": Move,
    "work": Work,
    "reading": Reading,
    "harvest": Harvest,
    "photo": Photo,
    "job": Job,
    "lesson": Lesson,
}
