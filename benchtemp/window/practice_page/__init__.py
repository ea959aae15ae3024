"""The Practice page: rounds of reading traces with results hidden, exercises, and machines to diagnose."""
