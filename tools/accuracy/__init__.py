"""What the inspector gets right and wrong on scenes whose truth is known.

`look` runs it over a folder of scenes, `tune` reports for development, `fit` makes
inspector/calibration.json, `table` writes docs/accuracy.md.
"""
