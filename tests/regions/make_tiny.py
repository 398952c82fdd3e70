"""Makes tiny.onnx, which stands in for the network in tests of inference: `python make_tiny.py`.

It has the network's inputs and outputs. Red 32 * k gives region k, blue / 255 every mark.
tiny_second.onnx gives faults too: every local log-odds is green / 8, the mean over a cell.
"""

from pathlib import Path

import numpy as np
import onnx
from onnx import TensorProto, helper, numpy_helper

REGIONS, MARKS, FAULTS = 8, 13, 16


def tiny(*, second: bool = False) -> bytes:
    center = 32.0 * np.arange(REGIONS, dtype=np.float32)
    nearest = np.zeros((REGIONS, 3, 1, 1), np.float32)
    nearest[:, 0, 0, 0] = 2 * center / 1000
    blue = np.zeros((MARKS, 3, 1, 1), np.float32)
    blue[:, 2] = 1 / 255
    weights = {"nearest": nearest, "bias": -center * center / 1000, "blue": blue}
    nodes = [
        helper.make_node("Conv", ["rgb", "nearest", "bias"], ["scores"]),
        helper.make_node("ArgMax", ["scores"], ["labels"], axis=1, keepdims=1),
        helper.make_node("Softmax", ["scores"], ["shares"], axis=1),
        helper.make_node("ReduceMax", ["shares"], ["sure"], axes=[1], keepdims=1),
        helper.make_node("AveragePool", ["rgb"], ["half"], kernel_shape=[2, 2], strides=[2, 2]),
        helper.make_node("Conv", ["half", "blue"], ["marks"]),
    ]

    outputs = []
    if second:
        green = np.zeros((FAULTS, 3, 1, 1), np.float32)
        green[:, 1] = 1 / 8
        weights["green"] = green
        nodes += [
            helper.make_node("AveragePool", ["rgb"], ["cell"], kernel_shape=[8, 8], strides=[8, 8]),
            helper.make_node("Conv", ["cell", "green"], ["faults"]),
        ]

    def value(name, kind, channels, height="h", width="w"):
        return helper.make_tensor_value_info(name, kind, [1, channels, height, width])

    if second:
        outputs.append(value("faults", TensorProto.FLOAT, FAULTS, "h8", "w8"))
    graph = helper.make_graph(
        nodes,
        "tiny",
        [value("rgb", TensorProto.FLOAT, 3)],
        [
            value("labels", TensorProto.INT64, 1),
            value("sure", TensorProto.FLOAT, 1),
            value("marks", TensorProto.FLOAT, MARKS, "h2", "w2"),
            *outputs,
        ],
        [numpy_helper.from_array(v, k) for k, v in weights.items()],
    )
    opsets = [helper.make_opsetid("", 13)]
    model = helper.make_model(graph, opset_imports=opsets, ir_version=8, producer_name="tests")
    onnx.checker.check_model(model)
    return model.SerializeToString()


if __name__ == "__main__":
    Path(__file__).with_name("tiny.onnx").write_bytes(tiny())
    Path(__file__).with_name("tiny_second.onnx").write_bytes(tiny(second=True))
