g0 x1 y5
f100
g1 x10 1 X 1 . 5
m7 m8
g18 g2 x4 i2 y1
g1(msg, x)9 g3 y4 j2 z0 x-1

g17 g2 x0 y0 iœ
g1 x1
 / x2
N1 M52 G 0 1 X 1 . m9 y4
g3 x[1/0]2 y3 i1
g2 x3 y2 j-1
g1 y-1
g2 x2 y-2 i-1
g1 x-2
g2 x-2.6 y-0.2 j1
g1 x1.4 y2.8
x[fup[-2.8] xor 1 or 0 and 1]
g2 x2 y3 i0.6 j-0.8
m30
