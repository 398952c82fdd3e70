"""Checks are tested with the uncertainty that they state themselves.

What calibration scenes make of it is data, and changes with each network.
"""

import pytest

from inspector import uncertainty


@pytest.fixture(autouse=True)
def uncalibrated(monkeypatch):
    monkeypatch.setattr(uncertainty, "calibrations", dict)
