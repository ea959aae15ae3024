"""Measure what an espresso machine really brews at.

Importing this package, or anything in it outside `benchtemp.window`, never loads Qt.
"""

__version__ = "0.1.0"
