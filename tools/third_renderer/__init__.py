"""Photos of soldered cup joints with their truth, from a third renderer: an outside check.

It was modelled apart from the studio and from the second renderer, and is path-traced by another
program than the studio (Blender's Cycles, as the module bpy). Its worth is its independence:
nothing of inspector, api, sample_images or other tools is imported, but for `compare`,
which makes no photos and only shows them to the inspector.

`python -m tools.third_renderer --first 100 --count 57 --out DIR` renders; `plan` says what a
number shows. `python -m tools.third_renderer.compare DIR` tells what the inspector makes of them.

Photos 0 to 76 were looked at in November 2026, so they are no fresh evidence any more; fresh
numbers start at 100. Every number from 77 on is drawn by itself, so that any of them can be made
alone.

A photo is NNN.jpg, its truth NNN.json:

    {"usable": whether the photo can carry a verdict at all,
     "why": what makes an unusable photo so, else null,
     "joints": [{
       "end": [x, y] of the insulation's end, pixels,
       "lip": [x, y] of the cup's lip on the wire's axis, pixels,
       "axis": [x, y] unit vector in the photo from the wire toward the terminal,
       "d_px": the wire's diameter over its insulation at that end, pixels,
       "mm_per_px": the scale there, from D in mm,
       "wire": "12 AWG" and the like,
       "bad": [names of the checks that must not pass], empty for a sound joint,
       "sound": whether that list is empty,
       "note": in words what was modelled: the fault, the cup, the gap in D as modelled and as
               the view shows it, and how severe the fault is, 0 to 1}]}

Positions run to the right and down from the picture's top left corner, so that the first pixel's
middle is (0.5, 0.5). A fault can be bad for more than one check (solder that took to nothing is no
fillet either); a bridge is told at both joints that it connects. The joints of unusable photos are
listed as modelled.

Lengths are in mm unless a name says otherwise, D is the wire's diameter over its insulation, and
angles are in radians unless a name says degrees. Frame of a scene: x along the wires toward the
terminal, y across them, z up; the cups' lips stand at x = 0. Where no other source is given,
dimensions, colours and frequencies are ours, no source.
"""
