g21 g1;7M6f-67.2-367.0 x4 i2
g1 x-2
g3 x4 r2g18 g2 x4 i2 y1
g19 Q.5gG92.23 y4 j2 z› x-1
g38.2 z-2 f10
g21363 mG26
g4 p.5
g93 g1 x2 f2
g2 x4 i1 f1
g38.2 z-2 f10
n70 g84 x3 r2 z-4
g94
m0
 / x2
m g1ç g

g17 g x0  M60i5
/p1 x2 xH10 y0 iœ
/g1 x1
 / x2
N1 2 G 0 1 X 1
 / 15.87232 G 0-90.0 . 5
m7 m8
m9 m492.k g0 x2
