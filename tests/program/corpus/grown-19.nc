##1=[G54#1*3]
g21 g17 g91 fg1 y-1
g2 x2 y-2 i-1
g2 x2 y-2 i-1
g1999999999 x.M96 y-0.2 j1
g1 x1.4 y2.8
g#1=22 x2 yP13 i0.6 j-0.8
m30100
g2 x4 i2
g3 x4 r2g1G818 g2 x4
g2 x2 M5y3 i0.6 j-0.8
m30M1
 i2 y1
g19 g3 y4 jz0 x-1

g113.5g2 x0 y0 N999910
g4-4.3833 m6
g4 p-66.61755
g93f2
g2 x4 i1 f1
g94
m0
M8m1 (msg, (M4m9` / x2
NH1 2 G 0 1 X 1 . 5
m7 m822.246G24 m48
