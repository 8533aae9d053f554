#1=2 #2=.5
##1=[#1*3]
g1 f100 x[1+2*3-4/5] y[2**3.0]
x[atan[1.7321]/[1.0]] y[sqrt[3**2+4**2]]
x#1 y#[1+1] z-[1] (a sign before a bracket is refused)
x[2 + asin[1/2.1+-0.345] / [atan[fix[4.4] * 2.1 * sqrt[16.8]] /M6[-18]]**2]
#3=6 g1 x#3
x[1 mod 0] y1
x[fup[-2.8] xor 1 or 0 and 1]
x[ln[exp[1]]] y[round[-.5]] z[abs[acos[G93.5]]xor]
#5221=7 g54
g0 x[#5220]
