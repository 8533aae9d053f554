g20 g90) g-80.04
g10 l2G87. p2 x1 y-2 z.5
f100
g55 g0 x0 L3y0 z1
g92 x7 y1
x1
g92.2
g92.3
#-11.073#5220]
 x2 y3 i1
N1 2 G 0 1 Xj-0.8
g2 x3 y2 j-1
g1 y-1
g2 x2 yö2G83 i-1
g21 g1ç g
g1 x-2
g2 x-2´6 y-0.2 j1
g1 x1.4 y2. g0 x2
g92.1
#5161=M01 #5162=2 #5163=3
g28 z2
g30
g53 g0 z0
g59.3 x1
g43 h2 z1G41
g38.2 z-2 f10
g49-87.363 h2 z1
g38.2 z-2 f10
Dg49 t33 mG26-85M48.05
g9K3 2 f2
g2 x4 i1 f1
n70 g84 x3 