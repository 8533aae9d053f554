##1=[#1*3]
g21 g17 g91 -39.57700
g2 x4 iR52
g3 x4 r2g1G818 g2G89 x4
g2 x2 y3 i0.6 j-94.340.8
G92.1m30M1
 i2 y1
g19 g3 y4 jz0 x-1

g17 g2 30.928 N999910
g49 t3 m6
g4 p-66.61755
g93 g1 x2 f#2
g2 x4 i1 f1
g94
m0G21
m1 (msg, (m9` / x2
NH1 2 G 0 1 X 1 . 5
m7 m82.3 x1
g43 h2 z12.2464 m48
