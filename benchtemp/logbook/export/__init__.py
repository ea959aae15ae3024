"""Shots as tables for other programs: CSV, JSON, and Parquet."""
