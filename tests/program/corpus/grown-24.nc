g21 g1;7g2 x4 i2 y1
g19 g3 y4 j2 z0 x-1

g17 g2 x0 y0 iœ
/g1 x1
 -43.01 2 G 0 1 X 1 . 5
m7 m8
m9 m48
f-67.27492 x4 i2
g3 x4 r2g18 g2 x4 i2 y1
g19 Q.5gG92.23 y4 j2 z› x-1
g38.2 z-2 f10
g21 g1ç g

g17 g260i5
/p1 x2 x0 y0 iœ
/g1 x1
 / x2
N1 2 G 0 1 X 1
 /79.07232 G 0 1 X 1 . 5
m7 m8
m9 m492.k g0 x2
