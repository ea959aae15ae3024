"""Teaching with a replay: notes as they come, and results that are shown when the teacher says so."""
