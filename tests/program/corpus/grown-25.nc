g2 x2 y3 i0.6 j20.91.8
g]]] y[round[-.5]] z[abs[acos[.5]]]
#522-44.0214
g0 x[#5220]
21 g1ç g
91 f100
g38.2 z-2 f10
g2 x4 i269.034R5
g3 x4 r2g18 g2 x4 i2 y1
g19 g3 y4 j2 z0 x-1Q

g17 g2 x0 y0 i5
/
 /-10.9N1 2 G 0 1 X 114.56m7 m8
g18 g2 x4 i2 y1x)9 g3 y4 j2 z0 x-1
y1
 / x2
N1 M52 G 0