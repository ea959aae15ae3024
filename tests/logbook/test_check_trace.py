import numpy as np

from benchtemp.logbook.check_trace import keep_check_trace
from benchtemp.logbook.ecsv import read_stream
from benchtemp.logbook.folder import Logbook
from benchtemp.logbook.shot_file import Condition, verify
from benchtemp.readings.reading import Stream
from benchtemp.shots.shot import analyse_stream


def test_the_readings_of_a_check_are_a_whole_recording_without_shots(tmp_path):
    book = Logbook(tmp_path)
    t_s = np.arange(0.0, 200.0, 0.25)
    temps = np.column_stack([np.minimum(80.0 + 0.2 * t_s, 100.4), np.full(len(t_s), np.nan)])
    meta = {"started": "2031-03-04T10:00:00+01:00", "source": {"port": "COM3"}, "kind": "other"}
    stream = Stream(channels=("T1", "T2"), t_s=t_s, temps_degc=temps, meta=meta)
    path = keep_check_trace(book, "../basket 1", stream)
    assert path == book.recordings_dir / "20310304-100000_check-basket-1.ecsv"
    assert verify(path).condition is Condition.WHOLE
    again = read_stream(path)
    assert again.warnings == ()
    assert again.meta["kind"] == "recording"
    assert again.meta["purpose"] == "check of a probe"
    np.testing.assert_array_equal(again.temps_degc, temps)
    np.testing.assert_array_equal(again.t_s, t_s)
    assert analyse_stream(again).shots == ()
    assert keep_check_trace(book, "basket 1", stream).name == "20310304-100000_check-basket-1-2.ecsv"
