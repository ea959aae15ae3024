"""The logbook's index: every file's header and notes, found in milliseconds; made from the files at will."""

from benchtemp.logbook.index.answers import Choices
from benchtemp.logbook.index.index import LogbookIndex, Updated
from benchtemp.logbook.index.query import Page, Query, Sort
from benchtemp.logbook.index.row import Kind, Row

__all__ = ["Choices", "Kind", "LogbookIndex", "Page", "Query", "Row", "Sort", "Updated"]
