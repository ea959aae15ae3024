"""Handing results over: reports, pictures and films, and the clipboard."""
