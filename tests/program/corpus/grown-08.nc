g2 x2 y3 i0.6 j-0.8
g21 g1ç g
91 f100
g2 x4 i2
g3 x4 r2g18 g2 x4 i2 y1
g19 g3 y4 j2 z0 x-1

g17 g2 x0 y0 i5
/
 / x2
N1 2 G 0 1 X 1 . 5
m7 m8
m9