"""Telling a stream that holds no readings from one with a bad line now and then."""

from __future__ import annotations

GARBAGE_S = 3.0
"""How long nothing but garbage must come before it is called that."""
_FEWEST_LINES = 3
_STRAY_BYTES = 32
_STRAY_TEXT_BYTES = 512
_SAMPLE_BYTES = 80
_TEXT_SHARE = 0.8


class GarbageWatch:
    """Counts what arrives and is no reading, from the last reading on."""

    def __init__(self) -> None:
        self._since_s: float | None = None
        self._lines = 0
        self._stray_since_s: float | None = None
        self._stray_bytes = 0
        self._sample = b""

    def well(self) -> None:
        """Forget everything: a reading came."""
        self._since_s = None
        self._lines = 0
        self._forget_stray()

    def bad_line(self, raw: bytes, t_s: float) -> bytes:
        """Count a whole line that is no reading.

        Returns:
            The line as a sample, once nothing but such lines has come for a while; else nothing.
        """
        self._forget_stray()
        if self._since_s is None:
            self._since_s = t_s
        self._lines += 1
        if self._lines < _FEWEST_LINES or t_s - self._since_s < GARBAGE_S:
            return b""
        return raw[:_SAMPLE_BYTES]

    def stray(self, chunk: bytes, t_s: float) -> bytes:
        """Count bytes that end no line.

        Returns:
            The last of them as a sample, once they have come for a while without any line end; else nothing.
        """
        if not chunk.strip():
            return b""
        if self._stray_since_s is None:
            self._stray_since_s = t_s
        self._stray_bytes += len(chunk)
        self._sample = (self._sample + chunk)[-_SAMPLE_BYTES:]
        enough = _STRAY_TEXT_BYTES if reads_as_text(self._sample) else _STRAY_BYTES
        if self._stray_bytes < enough or t_s - self._stray_since_s < GARBAGE_S:
            return b""
        return self._sample

    def _forget_stray(self) -> None:
        self._stray_since_s = None
        self._stray_bytes = 0
        self._sample = b""


def reads_as_text(raw: bytes) -> bool:
    """Tell whether bytes look like characters somebody wrote, and not like a wrong baud rate."""
    if not raw:
        return False
    readable = sum(32 <= byte < 127 or byte in b"\t\r\n" for byte in raw)
    degrees = raw.count(b"\xc2\xb0") * 2 or raw.count(b"\xb0")
    return (readable + degrees) / len(raw) >= _TEXT_SHARE
