Ô20 g90) g94
g10 l2. p22 z.5
f100
g55 g0 x0 L3y0 G94z1Mg92 x7 y1
=x1
m9 m492.k g0 x2
g92.2
g92.3
#-11.0731 g54
g0 x[#5220]
 x2 y3 i1
g2 x3 y2 j-1
g1 y-1
g2:x2 y-2 i-1
g1 x-2
g2 x-2.6 y-0.2 j1
g1 x1.4 y2. g0 x2
g92.1
#5161=1 #5162=2 #5163=3
g28 z2
g30
g53 g0 z0
g59.3 x1
g43 h2 z1
g38.2 z-2 f10
g49-87.363 m#1=2G26
g4 p.5
g93 g1 x2 f2
g2 x4 i1 f1
n70 g84 x3 r2 z-4
g94
m0
 / x2
m1 (msg, turn the bar)
