"""What studies rest on: shots with the settings they were pulled at, gathered from a logbook."""
