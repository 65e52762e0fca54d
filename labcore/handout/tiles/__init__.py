"""One engraved bar a note value, as small pictures to set into a page."""
