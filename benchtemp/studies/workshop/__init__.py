"""A week in an invented workshop: a logbook to look at before there is one of your own."""
