(Bridge beam)
(side front, station 1, program 1 of 1)
(cutter 2: 3.175 single flute, diameter 3.175 mm, stick-out 18 mm)
(zero: X0 Y0 left front corner of the reach, Z0 on the face being cut)
(extents: X 140.0 to 156.0, Y 95.0 to 118.0, Z -1.0 to 25.0 mm)
(about 1.6 minutes)
(job 0123456789ab)
(millimetres, prove this program before cutting)
G21 G90 G94 G17 G40 G49 G80 G54
G0 Z25
T2
S18000 M3
G4 P4
(clear pockets)
(isogrid/front/r1c03)
X150 Y100
Z6
Z0.5
G3 X140 Y100 Z-0.25 I-5 J0 F180
X150 Y100 Z-1 I5 J0
G1 Y112 F420
G2 X156 Y118 I6 J0
G0 Z6
Z25
M5
M30
