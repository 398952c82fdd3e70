"""Training of the region network: needs the extra `train`, and scenes from the studio.

One command, `python -m inspector.regions.training --scenes DIR --minutes 9 --out DIR`, makes
network.onnx with its figures; the model card beside network.onnx says what to fill in from them.
"""

from time import monotonic

BEGAN = monotonic()  # before the slow imports: the time limit counts them
