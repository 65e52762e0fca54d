"""The one exception a reader is meant to see."""


class LabError(Exception):
    """Bad input, said in a sentence: what came, what is allowed, what to do."""
