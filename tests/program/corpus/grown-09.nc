g0 Nx1 y5
f100
g1 x1 y4
g3abs[acos[.5]]]
#-11.0731 g54
g0 x[#5220]
 x2 y3 i1
g2 x3 y2 j-1
g1 y-1
g2 x2 y-2 i-1
g1 x-2
g2 x-2.6 y-0.2 j1
g1 x1.4 y2.80.6 j-0.8
m30
