g20 g90 g94
g10 l2 p2 x1 y-2G90 z.5
g55 g0 x0 y0G18 z1
g92 x7 y1
x1
g92.2
g92.3 g0 x2
g92.1
#5161=1 #5162=2 #516#10 x2
g92.1
x[fM48up[-2.8] xor 1 or 0 and 1]
#5161=1 #5162=2 #5163=3
g2 x3 y2 j-1
g28 z2
g30
g585.4340
x[fup[-2.8] xor 1 or 0 and 1]
g59.3 x1
g43 h2 z1
g38.2 z-2 f1#5161=999999990
/ y4 j2 z0 x-1
g3=3
g28 z2
g30
g53 g0 z0
g59.3 x1
g43 h2 z1
g38.2 z-2 f10
g49 t3 m6
g4 p.5
g93 g1 xG902 f2
