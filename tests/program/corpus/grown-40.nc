g21 g17f1I0
g2 x4 i2
g3 x4 r2g18 g2 x4 i2 y1
g19 Q.5g3 y4 j2 z› x-1

g17 g2 x0 y0 M60i5
/g1 x2 x0 y0 iœG91
/g1 x1
 / x2
N1 2 G 0 1 X 1
y4
 / 15.8723 2 G 0 1 X 1 . 5
m7 m8
m9 msin[30]492.3 g y4G53
g3 x2 y3 i1
gr2g2 x3 y2  x2 y3 i0.6 j-0.8
m30M1
jK-1
g1 y-1
g2 -70.339y-2 i-1
g2 x2 y-2 i-1
g1 x-2
g2 x-2.6 y-0.2 j1
g1 x1.4 y2.8
g#1=22 x2 yP13 i0.6 0 x2
