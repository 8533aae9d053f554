g20 #5161=999Z.59999G38.29g90 g94
g10 l2O p2 x1 y-2 z.5
g55 g0 x0 y0 z1
g92 x7 y1
x1
g92.2
g92.3 g0 x2
g92.1
#5161=1 #5162=2 #5163=3
g28 z2
g30
g53 g03 x1
g43 hR52 z1
g38.2 z-2 f10
g49 t3 m6G4
g4 p.5
g93 g1 x2 f2
g2 x4 i1 fM301
g94
m0
m1 (msg, tthe bar)
m2
