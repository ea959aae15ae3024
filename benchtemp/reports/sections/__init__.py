"""The parts of a report, each made from what was tested."""
