"""First-order response against its definition: shares of a step at multiples of the time constant."""

import numpy as np
import pytest

from benchtemp.probes.response import REACHED_AT_TAU, measure_time_constant


def test_share_at_one_time_constant(published_rows):
    shares = {row["kind"]: float(row["fraction"]) for row in published_rows("first_order_response.csv")}
    assert pytest.approx(shares["t63.2"], abs=1e-10) == REACHED_AT_TAU


def test_a_trace_made_of_the_table_gives_its_time_constant(published_rows):
    """The table's own points as a probe of 2 s plunged at 10 s from 20 to 95 °C."""
    tau, plunge, start, end = 2.0, 10.0, 20.0, 95.0
    rows = published_rows("first_order_response.csv")
    points = sorted((plunge + tau * float(row["t_over_tau"]), float(row["fraction"])) for row in rows)
    t = np.concatenate((np.arange(0.0, 10.0, 0.5), [at for at, _ in points], np.arange(28.0, 60.0, 0.5)))
    shares = np.concatenate((np.zeros(20), [share for _, share in points], np.ones(64)))
    found = measure_time_constant(t, start + (end - start) * shares)
    assert found.tau_s == pytest.approx(tau, rel=1e-3)
    assert found.plunge_s == pytest.approx(plunge, abs=0.01)
    assert found.crossing_s == pytest.approx(tau, rel=1e-3)
    assert found.first_order
