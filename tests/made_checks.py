"""A made-up check with one limit, a measurement for it, and calibration tables at will."""

from inspector import probability, proof
from inspector.model import Check, Limit, Measurement, Quantity


def a_limit(name="gap", sense="max", value=2.0, unit="D"):
    return Limit(
        name, sense, value, unit, "source", "seen", "It is {value}, over {limit}.", "Do it."
    )


def a_check(*limits):
    return Check("a-check", "A check", lambda _: (), limits or (a_limit(),), "page")


def measured(value, u=0.1, name="gap", unit="D", presence=1.0):
    return Measurement(name, Quantity(value, u, unit), (), presence)


def table(monkeypatch, chances):
    """Calibration tables that give one probability each, by "check.measurement"."""
    for module in (probability, proof):
        monkeypatch.setattr(module, "conformance_of_z", lambda name, *_: chances.get(name))
