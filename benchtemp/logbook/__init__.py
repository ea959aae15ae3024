"""The logbook: ECSV files, recordings, shot files, the folder they lie in, and the user's choices."""
