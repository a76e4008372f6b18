"""A witness of the proof that shares nothing with it.

It reads one program's text by the published rules of RS274/NGC (Kramer, Proctor and Messina, *The NIST RS274/NGC
Interpreter - Version 3*, NISTIR 6556, 2000; clauses stand beside the code) and by the dialect files, which it reads
itself as data. It sweeps every lit move by half a kerf, takes that off the plate, and compares the pieces that are
left with the parts asked for, edge against edge and both ways. It imports nothing of ``src``: its polygons are
shapely's, its arithmetic its own, and the layout comes to it as the plain document the project writes.

* ``dialect``: what a dialect's file says.
* ``words``: a line's letters and values, and the expressions of the standard.
* ``reader``: text -> events (moves, dwells, torch and marker, touch-off). What it does not understand is *unreadable*.
* ``asked``: a layout document -> polygons in their places, plate, keep-outs, tabs.
* ``ascut``: events -> metal left.
* ``judge``: *good*, *ruined*, *wrong* (the shapes are right, the process is not) or *unreadable*, with reasons.
"""
