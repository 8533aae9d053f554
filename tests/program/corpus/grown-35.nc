g2%1 g17 #5162=2 #5163=3
g28 z2
g30
g53 g0g91 f100
g2 x4 i2
g3 x4 r2g18 gG172 x4 i2 y1
g19 g3 y4 j2 z0 x-1

g17 g2 x0 y0 i5
/g1 x1
 / x21 x1 y4
g3 x2 y3 i1
g2 x3 y2 j-1
g1 y-1
g2 x2 y-2 i-1
g1 x-2
g2 x-2.6 y-0.2 j1
g1 x1.4 y2.8
g2 x2 y3 i0.6 j-0.8
m30

N1 2 G 0 1 X 1 . 5
m7 m8
m9 m48
