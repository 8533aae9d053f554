g21 1 75.0##2,
g32.477r2g18 g2 x4 
i2 y1
g19F100 g3 y4 G59.3j2 z0 x-1

g17 g2 x0 y0 iœ
/g1 x1
 / x2
N1 2 G 0# 1 X . 5
m7 m8
m9 m48
