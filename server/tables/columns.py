"""The files that import and export share: the kind each holds, its columns, and what tells its rows apart. Pure."""

from __future__ import annotations

from dataclasses import dataclass

from server.sync.fields import KINDS


@dataclass(frozen=True, slots=True)
class Table:
    """One kind of file. `key`: the fields by which a row finds its record; they are never edited by an import.

    `further`: columns that an import takes too, and that an export writes only where a record fills them; of these,
    `late` name records that may come later in the import, another tree or a batch, and are read once all are known.
    """

    file: str
    kind: str
    columns: tuple[str, ...]
    key: tuple[str, ...]
    further: tuple[str, ...] = ()
    late: tuple[str, ...] = ()

    @property
    def all_columns(self) -> tuple[str, ...]:
        """Every column that the file may have."""
        return self.columns + self.further

    @property
    def required(self) -> tuple[str, ...]:
        """The columns that the header must have, and that no row may leave empty."""
        return tuple(self.column(name) for name in KINDS[self.kind].required)

    def field(self, column: str) -> str:
        """The record's field that a column fills: a fact names its tree by tag."""
        return "tree" if column == "tag" and self.kind != "tree" else column

    def column(self, field: str) -> str:
        """The column that fills a record's field."""
        return "tag" if field == "tree" else field

    @property
    def is_card(self) -> bool:
        """Whether the rows are cards that have one name each."""
        return self.kind in CARDS

    @property
    def is_plan(self) -> bool:
        """Whether the rows are cards of which several may have one name: batches, jobs, lessons."""
        return self.kind in PLANS

    @property
    def owner(self) -> str:
        """The kind that a fact belongs to: a tree, or a place for readings."""
        return self.key[0]


CARDS = ("variety", "place", "tree")
PLANS = ("batch", "job", "lesson")
# In an order in which no file refers to a later one, but for late columns.
TABLES: dict[str, Table] = {
    table.file: table
    for table in (
        Table("varieties.csv", "variety", ("variety", "species", "note"), ("variety",), ("origin_country",)),
        Table(
            "places.csv", "place", ("place", "cover", "light_percent", "heated", "latitude", "note"), ("place",)
        ),
        Table(
            "trees.csv",
            "tree",
            ("tag", "variety", "place", "pot_litres", "source", "started_on", "standing", "position", "note"),
            ("tag",),
            ("marked_shoots", "parent", "batch", "donor_number", "decision", "decided_on"),
            ("parent", "batch"),
        ),
        Table(
            "observations.csv",
            "observation",
            (
                "tag", "seen_at", "shoots", "leaves_per_shoot", "leaves", "leaves_fallen", "shoot_cm", "fruit_breba",
                "fruit_main", "damage_percent", "causes", "bbch", "soil", "note",
            ),
            ("tree", "seen_at", "part"),
            ("shoot_leaves", "leaf_cm2", "part"),
        ),
        Table("moves.csv", "move", ("tag", "moved_at", "to_place"), ("tree", "moved_at", "to_place")),
        Table("work.csv", "work", ("tag", "done_at", "task", "amount", "note"), ("tree", "done_at", "task")),
        Table("readings.csv", "reading", ("place", "date", "t_min_c", "t_max_c"), ("place", "date")),
        Table(
            "harvests.csv", "harvest", ("tag", "picked_at", "fruit", "weight_g", "quality"),
            ("tree", "picked_at", "fruit"),
        ),
        Table(
            "batches.csv",
            "batch",
            ("batch", "variety", "parent", "method", "taken_on", "taken", "rooted", "failed", "note"),
            ("batch", "taken_on"),
        ),
        Table(
            "jobs.csv",
            "job",
            (
                "job", "task", "tag", "place", "to_place", "amount", "due_on", "put_off_to", "done_on", "dropped",
                "note",
            ),
            ("job", "task", "tree", "place", "key"),
            ("key",),
        ),
        Table(
            "lessons.csv",
            "lesson",
            (
                "lesson", "tag", "variety", "place", "on_day", "degree_days", "task", "learned_on", "heeded_on",
            ),
            ("lesson", "tree", "variety", "place"),
        ),
    )
}  # fmt: skip
# Written by an export beside the pictures; an import leaves it aside, since pictures come through the phone.
PHOTOS_FILE = "photos.csv"
PHOTO_COLUMNS = ("tag", "taken_at", "sha256", "file", "note")
