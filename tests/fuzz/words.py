"""What the grammars of the formats know: words that are put in place of others."""

TOML = (
    *(b'"auto"', b'"none"', b'"centre"', b'"lower-left"', b'"dots"', b'"toner-transfer"', b'"toner-resist"'),
    *(b'"service-print"', b'"waterslide-white"', b'"top"', b'"front"', b'"{title}"', b'"{"', b'"../x.csv"', b'""'),
    *(
        b"true",
        b"false",
        b"[]",
        b"{}",
        b"[[]]",
        b"[1, 2]",
        b"[nan, inf]",
        b"1979-05-27",
        b"07:32:00",
        b"0x10",
        b"1e400",
    ),
    *(b"part", b"knob", b"label", b"scale", b"positions", b"nudge", b"place", b"size", b"at", b"hole", b"d", b"tile"),
    *(
        b"[[face.text]]\n",
        b"[[face.control]]\n",
        b"[[coat]]\n",
        b"[board]\n",
        b"[limits]\n",
        b"[tolerance]\n",
        b"a.b.c",
    ),
)
TABLE = (b"id", b"x", b"y", b"d", b"unit", b"in", b"mm", b"sep=", b"dia", b"x (in)", b'"', b'""', b"#", b"roundness")
NC = (
    *(
        b"M48\n",
        b"M30\n",
        b"%\n",
        b"T1C1\n",
        b"T2\n",
        b"G85",
        b"G90\n",
        b"G91\n",
        b"G93X1\n",
        b"G00",
        b"G01",
        b"G02",
        b"R",
    ),
    *(b"R999999999X1\n", b"M25\n", b"M97,A\n", b"M70\n", b"ICI,ON\n", b"INCH,TZ\n", b"METRIC,LZ\n", b"M15\n", b"M00\n"),
    *(b"FMAT,1\n", b"N1", b";Holesize 1 = 2 MM\n", b";FILE_FORMAT=9:9\n", b"X", b"Y-", b"A1", b"G32X1Y1A2\n", b"T0\n"),
)
DXF = (
    *(
        b"  0\nCIRCLE\n",
        b"  0\nARC\n",
        b"  0\nINSERT\n",
        b"  0\nSPLINE\n",
        b"  0\nENDSEC\n",
        b"  0\nEOF\n",
        b" 70\n1\n",
    ),
    *(
        b"  2\nHOLE\n",
        b" 10\n1\n",
        b" 40\n1e300\n",
        b" 41\n0\n",
        b" 70\n32767\n",
        b" 71\n32767\n",
        b"$INSUNITS",
        b"AC1009",
    ),
    *(b"  0\nPOLYLINE\n", b"  0\nVERTEX\n", b"  0\nSEQEND\n", b"  0\nLWPOLYLINE\n", b"  0\nELLIPSE\n", b"  0\nBLOCK\n"),
    *(b"210\n0\n220\n0\n230\n-1\n", b"  5\nFF\n", b"330\nFF\n", b"102\n{ACAD\n", b"100\nAcDbCircle\n"),
)
SVG = (
    *(
        b"circle",
        b"path",
        b"use",
        b"g",
        b"svg",
        b"symbol",
        b"marker",
        b"clipPath",
        b"linearGradient",
        b"style",
        b"rect",
    ),
    *(b"href", b"id", b"transform", b"d", b"points", b"viewBox", b"width", b"clip-path", b"fill", b"stroke-dasharray"),
    *(b'"url(#g)"', b'"url(#c)"', b'"#u"', b'"#s"', b'"url(#m)"', b'"none"', b'"0 0 0 0"', b'"M0 0"', b'"rotate(1e9)"'),
    *(b'"currentColor"', b'"inherit"', b'"scale(0)"', b'"matrix(1 1 1 1 0 0)"', b'"1,2 3"', b'"50%"', b"<g>", b"</g>"),
    *(
        b"<!--",
        b"<![CDATA[",
        b"<!DOCTYPE svg>",
        b"<?xml version='1.0' encoding='utf-16'?>",
        b'"xMidYMid slice"',
        b"opacity",
    ),
    *(b"a{b:c}", b"a b>c+d~e{x:y}", b":not(a)", b"@media", b"!important", b"M0 0A1 1 0 0 1 2 2", b"m1 1z", b"filter"),
)
PRINTERS = (
    *(b'[printer."office laser"]\n', b"[printer]\n", b"[[printer]]\n", b"printer", b"across", b"up", b'""', b"attic"),
    *(b'"a b"', b"'a  b'", b'"\\u0000"', b'"\\u202e"', b'"a\\nb"', b'"e\\u0301"', b'"99,2"', b'"3 15/16 in"', b"true"),
    *(b"[]", b"{}", b"{ across = 99, up = 101 }", b"1979-05-27", b"a.b.c", b"printer.x.up = 100\n", b"inf", b"9.92"),
)
