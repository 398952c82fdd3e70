"""Photos of soldered cup joints with their truth, from a second renderer: an outside check.

It was modelled apart from the studio and path-traced by another program (Blender's Cycles, as the
module bpy), so that what the inspector learnt of the studio's own manner does not help it here.
That independence is the point: nothing of inspector, api or sample_images is imported.

`python -m tools.second_renderer --out DIR --first 1 --count 98` renders; see `plan` for what a
number shows and `truth` for what is written. Lengths are in D, the wire's diameter over its
insulation, unless a name says otherwise; angles are in radians unless a name says degrees.
Frame of a scene: x along the wires toward the terminal, y across them, z up; the cups' entry edges
stand at x = 0.
"""
