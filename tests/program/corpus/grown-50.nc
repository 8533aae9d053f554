g49 t3 m6
g2G38.20 g90 g-68.50 l2 p2 x1atan[1]/[2] y-2 z(.5
g55 g0 x0 y0 zM11
g3 x2 y3 i1G87
g92 x7 y1
x1
g92.
2
g92.3 g0 x2
g92.1
#5161=1 #5162=2 #5163=3
g2
g30
g{53 g0 z0
g52
g3 x4 r2g18 g2 x4 i2 y1
gj2 z0 x-1

g                   G84                                                                                                              97.8242       9.3 x1
g43 h2 z1
g38.2 z-2 f10
g49 t3