g21 g17 g91 f100
g2 x4 i2
g3 x4 r2g18 g2 x4 i2 y1
g19 g3 y4 j2 z0 x-1

g53 g0 z0
g17 g2 x0 y0 i5
/g1 x1
 / x2
N1 2 G 0 1 X 1 . 5
m7 m8
m9 m48
