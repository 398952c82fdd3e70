"""The trained network as network.onnx: pixels in, labels and probabilities out.

Input "rgb" (1, 3, H, W) float32 in 0..255, sides multiples of 32. Outputs: "labels" (1, 1, H, W)
int64, the likeliest region; "sure" (1, 1, H, W), its probability; "marks" (1, len(Mark), H/2, W/2)
probabilities; "faults" (1, OPINIONS, H/8, W/8), local log-odds. Softmax and arg max inside cost
less than handing out all the logits.
"""

from __future__ import annotations

import warnings
from pathlib import Path

import onnx
import torch
from onnx import helper, numpy_helper
from torch import Tensor, nn

from inspector.regions.training.net import Net

LARGEST_BYTES = 16_000_000
_OPSET = 13
OUTPUTS = ("labels", "sure", "marks", "faults")


class Answer(nn.Module):
    """The network with its logits turned into what inference needs."""

    def __init__(self, net: Net) -> None:
        """Wrap `net`, which stays as it is."""
        super().__init__()
        self.net = net

    def forward(self, rgb: Tensor) -> tuple[Tensor, Tensor, Tensor, Tensor]:
        """Labels, sureness, marks, faults; see the module's text."""
        regions, marks, faults = self.net(rgb)
        top = regions.max(1, keepdim=True)[0]
        sure = (regions - top).exp().sum(1, keepdim=True).reciprocal()
        return regions.argmax(1, keepdim=True), sure, marks.sigmoid(), faults


def _fold_pads(model: onnx.ModelProto) -> None:
    """Give one-sided padding to the convolution behind it: one node less, for every runtime.

    The strided convolutions of the encoder need it; see `encoder.SameConv`.
    """
    graph = model.graph
    pads = {n.output[0]: n for n in graph.node if n.op_type == "Pad"}
    for node in graph.node:
        pad = pads.get(node.input[0]) if node.op_type == "Conv" else None
        if pad is None:
            continue
        kernel = next(list(a.ints) for a in node.attribute if a.name == "kernel_shape")
        total = [k - 2 for k in kernel]  # stride 2, even sides
        kept = [a for a in node.attribute if a.name not in {"pads", "auto_pad"}]
        del node.attribute[:]
        node.attribute.extend(kept)
        amounts = [t // 2 for t in total] + [t - t // 2 for t in total]
        node.attribute.append(helper.make_attribute("pads", amounts))
        node.input[0] = pad.input[0]
    _drop_unused(graph)


def _drop_unused(graph: onnx.GraphProto) -> None:
    while True:
        used = {i for n in graph.node for i in n.input} | {o.name for o in graph.output}
        spare = [n for n in graph.node if not used.intersection(n.output)]
        if not spare:
            return
        for node in spare:
            graph.node.remove(node)


def export(net: Net, path: Path, note: str = "") -> None:
    """Write the network as ONNX, batch norm folded, weights float32.

    Raises ValueError if the file would be larger than LARGEST_BYTES.
    """
    net = net.cpu().float().to(memory_format=torch.contiguous_format)
    answer = Answer(net).eval()
    new = path.with_suffix(".tmp")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # the exporter warns of itself
        torch.onnx.export(
            answer,
            (torch.zeros(1, 3, 64, 96),),
            str(new),
            dynamo=False,
            opset_version=_OPSET,
            input_names=["rgb"],
            output_names=list(OUTPUTS),
            dynamic_axes={
                "rgb": {2: "height", 3: "width"},
                "labels": {2: "height", 3: "width"},
                "sure": {2: "height", 3: "width"},
                "marks": {2: "half_height", 3: "half_width"},
                "faults": {2: "cell_rows", 3: "cell_columns"},
            },
        )
    model = onnx.load(str(new))
    _fold_pads(model)
    model.producer_name, model.doc_string = "inspector.regions.training", note
    onnx.checker.check_model(model)
    raw = model.SerializeToString()
    new.unlink()
    if len(raw) > LARGEST_BYTES:
        msg = f"{path.name} would be {len(raw)} bytes, more than {LARGEST_BYTES}"
        raise ValueError(msg)
    new.write_bytes(raw)
    new.replace(path)  # never half a file


def weights_are_finite(path: Path) -> bool:
    """Whether every number in the file is finite."""
    model = onnx.load(str(path))
    tensors = [numpy_helper.to_array(t) for t in model.graph.initializer]
    return all(torch.from_numpy(t.copy()).isfinite().all() for t in tensors)
