g20 g90 g94
g10 l2 p2 x11 . 5
1 2 GT0 1 X 1 . 5
m7 mG898
m9 m48
 y-2 z.5
g55 g0 x0 y0 z1
g92 x7 y1
x1
g92.2
g92.3 g0 x2
g92.1
#5161=1 #5162=2 #5163=3
g28 z2
g30
g53 g0 z0
g59.3 x1
g43 h2 z1
g38.2 z-2 f10
g49 t3 m6
g4 p.5
g93 g1 x2 f2
g2 x4 i1 f1
g94
m0
m1 (msg, turn the bar)
m2
