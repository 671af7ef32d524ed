"""The shapes of what comes in and goes out, as marshmallow schemas; rules beyond shape are the commands'."""

from __future__ import annotations

from marshmallow import Schema, ValidationError, fields, validate

from labels.pages import PAGE_DEFAULT, PAGES
from server.records.devices import ROLES
from server.sync.pull import LIMIT_MAX
from server.tables.logger_columns import UNITS
from server.tables.logger_table import ADDRESS_LETTERS_MAX
from server.tables.logger_times import ORDERS
from server.wording.said import say

LIMIT_DEFAULT = 1000


def _must_be_list(value: object) -> None:
    if not isinstance(value, list):
        raise ValidationError(say("must be a list of changes"))


class PairIn(Schema):
    """A pairing code and what the device is called."""

    code = fields.String(required=True, validate=validate.Length(1, 40))
    device_name = fields.String(load_default="", validate=validate.Length(max=200))


class PairOut(Schema):
    """What a device keeps of its pairing."""

    device = fields.String()
    token = fields.String()
    role = fields.String()
    collection = fields.String()
    epoch = fields.String()


class PairingIn(Schema):
    """Whom a new pairing code is for."""

    role = fields.String(load_default="helper", validate=validate.OneOf(ROLES))


class PairingOut(Schema):
    """A pairing code, where it leads and how long it holds."""

    code = fields.String()
    url = fields.String()
    expires_at = fields.String()


class SyncIn(Schema):
    """The envelope of a sync request; each change is judged by itself, so that a bad one spoils no other."""

    protocol = fields.Integer(required=True, strict=True)
    epoch = fields.String(load_default=None, allow_none=True)
    cursor = fields.String(load_default=None, allow_none=True)
    limit = fields.Integer(load_default=LIMIT_DEFAULT, strict=True, validate=validate.Range(1, LIMIT_MAX))
    changes = fields.Raw(load_default=list, validate=_must_be_list)


class SettingsIn(Schema):
    """The collection's settings; those that are left out stay as they are."""

    collection = fields.String()
    time_zone = fields.String()
    public_url = fields.String(allow_none=True)
    tag_extra = fields.List(fields.String(), validate=validate.Length(max=20))


class PhotoQuery(Schema):
    """How wide a smaller copy should be, in pixels."""

    width = fields.Integer(load_default=None)


class TagsQuery(Schema):
    """Which tags to print, and on what."""

    place = fields.UUID(load_default=None)
    trees = fields.String(load_default="")
    blank = fields.Integer(load_default=0)
    paper = fields.String(load_default=None, validate=validate.Length(max=60))
    code_mm = fields.Float(load_default=None)


class CardQuery(Schema):
    """The paper of the measuring card: a4 or letter."""

    paper = fields.String(load_default="a4", validate=validate.Length(max=60))


class ReportQuery(Schema):
    """The day on which a report is asked for; nothing later is looked at. None means today."""

    on = fields.Date(load_default=None, allow_none=True)


class PaperQuery(Schema):
    """The paper of something to print: a4 or letter."""

    paper = fields.String(load_default=PAGE_DEFAULT, validate=validate.OneOf(tuple(PAGES)))


class SheetQuery(ReportQuery, PaperQuery):
    """The day of a sheet of jobs, and its paper."""


class HardeningQuery(ReportQuery):
    """Which trees to bring out: one (tag or id), several (with commas between) or a place's; and to which place."""

    trees = fields.String(load_default="", validate=validate.Length(max=12_000))
    place = fields.String(load_default=None, validate=validate.Length(1, 200))
    tree = fields.String(load_default=None, validate=validate.Length(1, 200))
    to = fields.String(load_default=None, validate=validate.Length(1, 200))


class SeasonQuery(ReportQuery):
    """The growing year to review; None means that of the day."""

    year = fields.Integer(load_default=None, allow_none=True)


class YearEndQuery(SeasonQuery, PaperQuery):
    """The growing year to report on, and the paper."""


class GroupQuery(ReportQuery):
    """Two groups of trees, `a` and `b`, made `by` one property, and the measure on which they are compared."""

    measure = fields.String(load_default="growth_cm", validate=validate.Length(1, 40))
    by = fields.String(load_default="variety", validate=validate.Length(1, 40))
    a = fields.String(load_default=None, validate=validate.Length(1, 200))
    b = fields.String(load_default=None, validate=validate.Length(1, 200))
    species = fields.String(load_default=None, validate=validate.Length(1, 80))


class StepQuery(ReportQuery):
    """The place (name or id) that a tree would be moved to."""

    to = fields.String(required=True, validate=validate.Length(1, 200))


class SpeciesFigureIn(Schema):
    """A grower's own figure of a species; null goes back to the table's."""

    species = fields.String(required=True, validate=validate.Length(1, 40))
    name = fields.String(required=True, validate=validate.Length(1, 60))
    value = fields.Raw(required=True, allow_none=True)


class SeasonFigureIn(Schema):
    """A grower's own figure of the season's review; null goes back to the usual."""

    name = fields.String(required=True, validate=validate.Length(1, 60))
    value = fields.Raw(required=True, allow_none=True)


class LoggerQuery(Schema):
    """How a logger's file is to be read, where it does not say so itself: columns by name or number, unit, dates."""

    column = fields.String(load_default=None, validate=validate.Length(1, ADDRESS_LETTERS_MAX))
    time_column = fields.String(load_default=None, validate=validate.Length(1, ADDRESS_LETTERS_MAX))
    unit = fields.String(load_default=None, validate=validate.OneOf(UNITS))
    day_order = fields.String(load_default=None, validate=validate.OneOf(ORDERS))


class PassportsQuery(Schema):
    """What the grower says of all accessions: INSTCODE, and SAMPSTAT and COLLSRC where no tree has its own."""

    institute = fields.String(load_default="", validate=validate.Length(max=10))
    status = fields.String(load_default="", validate=validate.Length(max=10))
    acquired = fields.String(load_default="", validate=validate.Length(max=10))


class PassportsIn(Schema):
    """What came of passports that were taken in, in words, a line each; `span` takes it back."""

    lines = fields.List(fields.String())
    span = fields.String()


class LeftOutDay(Schema):
    """A day of which a logger's values cover too little."""

    date = fields.String()
    covered_percent = fields.Integer()


class LoggerOut(Schema):
    """What came of a logger's file: readings by outcome, how it was read, the days left out; `span` takes it back."""

    place = fields.String()
    column = fields.String()
    unit = fields.String()
    new = fields.Integer()
    changed = fields.Integer()
    unchanged = fields.Integer()
    withdrawn = fields.Integer()
    first = fields.String()
    last = fields.String()
    values = fields.Integer()
    without_value = fields.Integer()
    left_out = fields.List(fields.Nested(LeftOutDay))
    span = fields.String()


class TakenBackOut(Schema):
    """How many records went back to what they were, and how many were left, as others build on them."""

    records = fields.Integer()
    left = fields.Integer()
