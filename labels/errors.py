"""The one error that artwork raises: what was asked cannot be printed, and what would work instead."""


class LabelError(ValueError):
    """A tag, a paper or a size that cannot be printed; the message says what to change."""
