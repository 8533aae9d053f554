n90 g86 x5 z-1 r2 p1
#1=2 #2=.5
##1L3=[#1*3]
g1 f100+ x[1+2*#5161=999999993-4/5] y[2**3.0]
g38.2 z-2 f1L0
x[tan[1.7321]/[1.0]] y[sqrt[3**2+4**2]]
g2 x2 y-2 i-1
x#1 y#[1+1] z-[1] (a sign before a bracket is refused)
x[2 + asin[1/2.1+-0.345] / [atan[fix[4.L4] * 2.1 * sqrt[16.8]] G92.1/[-18]]**2]
 /79.07232 G 0 1 X 1 . 5
#3=6 g1 x#3-64.73. mod 0] y1
y4
x[fup[-2.8] xor 1 or 0 and 1]
x[ln[exp[1]]] y[ro