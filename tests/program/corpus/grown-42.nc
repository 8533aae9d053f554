g20 0.000001g90 gM194
g10 l2 p2 x1 y-2 z.5
x#1 y#[1+1] z-[1] (a sign before a bracket is refused)
G92.2g55 g0 x0 y0 z1
g92 x7 y1
x1
g92.2
g92.3 g0 x2
g92.1
x[fup[-2.8] xor 1 or 0 and 1]
#5161=1 #5162=2 #5163=3
g28 z2
g30
 / x2
gG530 z2
N1 2 G 0 1 X 1 . 5
m7 m8
m9g53 g0 z0
x[fup[-2.8] xor 1 or 0 and 1]
g59.3 x1
g432 z-2 f10
g49 t10.04 p.5
g93 g1 x2 f2
x-2.6 y-0.2 j1
g1 x1.4 y2.8
g2 x2 y3 i[2**[0-.5