"""The keys of a practice round, for the key list; the round itself obeys them."""

PRACTICE_KEYS = (
    (
        "Space, Enter",
        "Practice: the pump goes on; the plateau is reached (Enter also hands in and goes on).",
    ),
    ("Backspace", "Practice: take the last mark back."),
    ("Home, End", "Practice: the trace from its beginning, or all of it."),
    ("K, Z", "Practice: pause or go on; zoom in on the top of the trace."),
    ("Esc, Esc", "Practice: leave the round."),
)
