"""The replay of a shot as a film with true timing, to lay over footage or to show by itself."""

from benchtemp.reports.film.film import Film, film_of, still_png, write_film
from benchtemp.reports.film.rate import frame_rate

__all__ = ["Film", "film_of", "frame_rate", "still_png", "write_film"]
