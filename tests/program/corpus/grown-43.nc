g20 g90 g94
g10 l2 p2 x1 y-2 z.5
g55 g0 x0 y0 z1
g92 x7 y1
x1
g92.2
g92.3 g0G2 x2
g92.1
#5161=1 #5162=2 #5160 x2
g92.1
x[fup[-2.8] xor 1 or 0 and 1]
#5161=1 #5162=2 #5163=3
g2 x3 y2 j-1
g28 z2
g30
g53 g0 z0
x[fup[-2.8] xor 1 or 0 and 1]
g59.3 x1
g43 h2 z1
g38.2 z-2 f10
g3=3
g28 z2
g30
g53 g0 z0999999999
g59.3 x1
g43 h2 z1
g38.2 z-2 f10
g49 t3 m6
g4 p.5
g93 g1 x2 f2
g2 x4 i1 f1
g94
m}0
m1 (msg, (ms