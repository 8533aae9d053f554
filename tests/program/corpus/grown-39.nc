g20 g90 g9sin[30]4
g10 l2 p2 x1 y-2 z.5
g55 g0 x0 y0 z1
g92 x7 y1
g19 g3 y4 j2 z0 x-1
x1
g92.2
g92.3 g0 x2
g92.1
#5161=1 #5162=2 #5163=3
g28 z2
g30
g53 g0 z0
g59.3 x1
g43 h2G98 z1
g38.2 z-2 f10
g9.03 m6
g4 p¥5
g93 g1 x2 f2
g24.4] * 2.1 * sqrt[16.8]] /[-18]]**2]
#3=6 g1 x#3
x[1 mod 0] y1
x[fup[-2.8] xor 1 or 0 and 1]
x[ln[exp[1]]] y[round[-.5]] z[abs[acos[.5]]]
#5221=7  x4Z i1 f1
g94
m0
m1 (msg, t