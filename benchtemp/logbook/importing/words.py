"""Words that meters write above their columns and tables, in a few languages (common ones, from memory)."""

from __future__ import annotations

import re

from benchtemp.logbook.importing.layout import ElapsedUnit


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


TIME = _set(
    "time times timestamp elapsed duration runtime uptime sec secs second seconds millis milliseconds clock "
    "zeit uhrzeit dauer laufzeit sekunden durée heure tiempo hora tempo ora tid tijd"
)
ELAPSED = _set("elapsed duration runtime uptime relative rel since dauer laufzeit durée")
COUNTER = _set(
    "no nr n num number count counter index idx id seq sequence sample scan record rec row line point "
    "reading nummer messung lfd numéro número"
)
TIME_UNITS: dict[ElapsedUnit, frozenset[str]] = {
    "ms": _set("ms msec msecs millis millisecond milliseconds millisekunden"),
    "us": _set("us µs μs usec micros microseconds"),
    "min": _set("min mins minute minutes minuten minutos minuti"),
    "h": _set("h hr hrs hour hours std stunden heures horas ore"),
    "day": _set("d day days tage"),
    "s": _set("s sec secs second seconds sek sekunde sekunden secondes segundos secondi"),
}
START = _set(
    "start started begin began beginning first date time created recorded logged "
    "datum zeit beginn aufzeichnung début debut heure fecha inicio hora data inizio ora"
)
NOT_START = _set(
    "stop stopped end ended last export exported print printed download downloaded calibration calibrated "
    "due interval rate format zone ende fin fine"
)
INTERVAL = re.compile(
    r"interval|period|sampl|logging rate|scan rate|record rate|log rate|takt|abtast|échantillon",
    re.IGNORECASE,
)
UNIT = re.compile(r"\bunits?\b|einheit|unité|unidad|\btemperature\b|\btemperatur\b", re.IGNORECASE)
TEMPERATURE = re.compile(
    r"temp[ée]ratur\w*|temperat\w+|teplota|lämpötila|f(?:ü|ue)hler|sonde|sonda|kanal|canale?|voie|kanaal|温度",
    re.IGNORECASE,
)
DEGREE = re.compile(r"°\s*[cf]\b|\bdeg\.?\s?[cf]\b|[\[(]\s*[cf]\s*[\])]", re.IGNORECASE)
HUMIDITY = re.compile(r"feucht\w*|luftf\w*|humidité|humedad|umidità|湿度", re.IGNORECASE)
SETPOINT = re.compile(r"\bsoll\w*|consigne|consigna", re.IGNORECASE)
WEIGHT = re.compile(
    r"weight|mass|scale|grams?\b|gewicht|masse|waage|poids|peso|[\[(]\s*(?:g|kg|oz|lb)\s*[\])]", re.IGNORECASE
)
DIFFERENCE = re.compile(r"diff|delta|Δ|[a-z]*\s*\d+\s*[-−–]\s*[a-z]+\s*\d+", re.IGNORECASE)
STATISTIC = re.compile(r"\b(?:min|max|avg|mean|average|minimum|maximum|mittel\w*)\b", re.IGNORECASE)

AVERAGE = re.compile(r"\b(?:avg|mean|average|mittel\w*)\b", re.IGNORECASE)


def words_of(name: str) -> set[str]:
    """Return the words of a name in lower case, without figures and signs."""
    return set(re.findall(r"[^\W\d_]+", name.lower()))


def capital(text: str) -> str:
    """Return a sentence's beginning with a capital letter."""
    return text[:1].upper() + text[1:]
