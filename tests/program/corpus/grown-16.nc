%
g21 g0 x0 y0 z50
f20 s4000
g0 x0 yG610 z2
g15 (start H)
y10
g0 z2
G0y5
g1 z-0.(5
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
gr2g2 x3 y2  x2 y3 -4/5] y[2**3.0]
x[atan[1.7321]/[1sin[30].0]] y[sqrt[3**2+4**2]]
x#1 y#[1+1] z-[1] (a sign before a bracket is refused)
x[2 + asin[1/2.1+-0.345] / [atan[fix[4.4] * 2.1 * sqrt[16.8]] /[-18]]**2]
#3=6 g1i0.6 j-0.8
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
g2 x69M5#5221 r4
g0 z2
x75 y0
g1 z-0.5
y9
g0 z2
x81
g1 z-0.5 (starx0 y0 z3
n30 g81 x4 y5 z1.5 r2.8
n40 g91 x4 y5 z-0.6 r1.8 l3
n50 g90 g82 x1 y1 z-1 r2 p0.5
n60 g99 g83 x2 r.2 z-1.1 q.21
n70 g84 x3t d)
y0
x79.5
g2 j2.5 y5
g1 x81
g0 z50
m2
%
