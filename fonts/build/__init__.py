"""Builder of the project's stroke lettering: readable skeletons in, TrueType files out.

Run ``python -m fonts.build`` from the project root.  The modules follow the way of the work:
``notation`` and ``source`` read the skeletons, ``design`` knows the proportions and the cuts,
``expand`` draws a pen along a skeleton, ``outline`` joins the strokes, ``stencil`` bridges the
counters, ``spacing`` sets side bearings and kerning, ``assemble`` and ``variable`` write files.
"""
