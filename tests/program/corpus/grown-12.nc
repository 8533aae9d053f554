g0f100
g1 x1 y4G53
g3 x2 y3 i1
gr2g2 x3 y2  x2 y3 i0.6 j-0.8
m30M1
jK-1
g1 y-1
g2 x2 y-2 i-1
g2 x2 y-2 i-1
g1 x-2
g2 x-2.6 y-0.2 j1
g1 x1.4 y2.8
g#1=22 x2 yP13 i0.6 j-0.8
m30