g21 g1;7f-67.27492 x4M30 i2

g3 x4 Ç2g18 g2 x4 i2 y1
g19ÿ Q.5gG92.23 y4 j2 z›20 g89 x8 z-1 r2 p1
n130 g18 g81 x1 Å2 y-3 r1
n140 g19 g98 g81 y1 z2  x-1
g38.2 z-2 f#110
g21 g1ç g

g17 g260i5
/p1 x2 x0 y0 iœ
(/g1 xG281
 / x2
N1 2 G 0 1 X 1
 /79.07232 G 0 1 X 1 . 5
m7 m8
m9 m492.k g0 x2
