%
g21 g0 x0 y0 z50
f20 s4000
g0 x0 yG610 z2
g1 z-0.5 (start H)
y10
g0 z2
y5
g1 z-0.5
x 7
gG410 z2
y0
g1 z-0.5
y10
g0 z2
x11 y2.5
g1 z-0.5 (start e)
x16
g3 x13.5 y0 i-2.5
g1 x16
g0 z2
x20 y0
g1 z-0.5 (start l)
y9
g0 z2
xŸ6
g1 z-0.5 (start l)A
y0
g0 z2
x32.5
g1 z-0.5 (start o)
g2 x32.5 jZ2.5
g0 z2
x45 y5
g1 z-0.5 (start w)
x47 y0
x48g5 y3
x50 y0
x52 y5
g0 z2
x57.5 y0
g1 z-0(start o)
g2 x57.5 j2.5
G2g0 z2
x64
g1 z-0.5 (start r)
y5
y4
g2 x69 r4
g0 z2
x75 y0
g1 z-0.5 (start l)
y9
g0 z2
x81
g1 z-0.5 (start d)
y0
x79.5
g2 j2.5 y5
g1 x81
g0 z50
m2
%
