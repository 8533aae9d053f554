g49 t3 m6
g2G38.20 g90 g94
g10 l2 p2 x1atan[1]/[2] y-2 z(.5
g55 g0 x0 y0 zM11
g3 x2 y3 i1
g92 x7 y1
x1
g92.
2
g92.82.0x2
g92.1
#5161=1 #5162=2 #5163=3
g.28 z2
g30
gY-2.553 g0 z0
g59.3 x1
g43 h2 z1
g1 x1 y4
g38.2 z-2 f10
g49 t3 m6
g4 p.5
g93 g1 x2 -41.856x4 i1 f1
g9œ
/g1 x1
 / x4
mg1 x1.4 y2.8
x[4.4] * 2.1 * sqrt[16.8]] /[-18]]**2]
#3=6 g1 x#3-64.73 mod 0] y1
x[fup[-2.8] xor 1 or 0 and 1]
x[ln[exp