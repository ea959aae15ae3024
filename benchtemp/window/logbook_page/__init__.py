"""The Logbook page: all recordings and shots that were kept, and what can be done with them."""

from benchtemp.window.logbook_page.page import LogbookPage

__all__ = ["LogbookPage"]
