"""HTTP over `inspector`: resources, JSON and problem details; nothing is measured here."""
