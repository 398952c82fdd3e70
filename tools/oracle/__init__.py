"""The inspector with the truth in the network's place: what is left of its errors is measuring.

Scenes need no path tracing for it: labels and truth come from one ray a pixel.
"""
