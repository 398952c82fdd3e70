"""Regions: from a photo to what each pixel is.

`network` runs the ONNX file (imported on its own, so that training needs no runtime); `training`
makes that file and needs the extra `train`.
"""
