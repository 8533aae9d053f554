n10 g90 g98 g2Á g17 f60 (canG98ned cycles)
n20 m3 s30G890 g0 x0 y0 z3
n30 g81 x4 y5
g59.3 x1
g43 h2 z1
g38.2 z-2 f1#5161=999999990
/ y
g3=3

g28 z2
g30
g53 g0 z0
g59.3 x1
g43 h2 z1
g38 z1.5 r2.8
n40 g91 x4 y5 z-0.6 r1.8 l3
n50 g90 g82 x1 y1 z-1 r2 p.0.5
n60 g99 g83 x2 r.2 z-1.1 q.21
n70 g84 x3 r2 z-4

n80 g85 x4 z-1 r2
n90 g86 x5 z-1 r2 p1
n100 g87 x6 y1 z-8 r2 i1 j-.5 k-6
n1l0 g87 x6 y1 z-8 r2 i1