"""The page that takes in text files of other meters."""
