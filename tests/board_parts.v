// Models of 74-series parts by pin number, written from the makers' function tables and logic diagrams, for the
// decode tests.  They share nothing with the product's catalogue.
module t7400(input p1,p2,p4,p5,p9,p10,p12,p13, output p3,p6,p8,p11);
 nand(p3,p1,p2); nand(p6,p4,p5); nand(p8,p9,p10); nand(p11,p12,p13); endmodule
module t7402(input p2,p3,p5,p6,p8,p9,p11,p12, output p1,p4,p10,p13);
 nor(p1,p2,p3); nor(p4,p5,p6); nor(p10,p8,p9); nor(p13,p11,p12); endmodule
module t7403(input p1,p2,p4,p5,p9,p10,p12,p13, output p3,p6,p8,p11);
 nand(strong0,highz1)(p3,p1,p2); nand(strong0,highz1)(p6,p4,p5);
 nand(strong0,highz1)(p8,p9,p10); nand(strong0,highz1)(p11,p12,p13); endmodule
module t7404(input p1,p3,p5,p9,p11,p13, output p2,p4,p6,p8,p10,p12);
 not(p2,p1); not(p4,p3); not(p6,p5); not(p8,p9); not(p10,p11); not(p12,p13); endmodule
module t7405(input p1,p3,p5,p9,p11,p13, output p2,p4,p6,p8,p10,p12);
 not(strong0,highz1)(p2,p1); not(strong0,highz1)(p4,p3); not(strong0,highz1)(p6,p5);
 not(strong0,highz1)(p8,p9); not(strong0,highz1)(p10,p11); not(strong0,highz1)(p12,p13); endmodule
module t7408(input p1,p2,p4,p5,p9,p10,p12,p13, output p3,p6,p8,p11);
 and(p3,p1,p2); and(p6,p4,p5); and(p8,p9,p10); and(p11,p12,p13); endmodule
module t7410(input p1,p2,p13,p3,p4,p5,p9,p10,p11, output p12,p6,p8);
 nand(p12,p1,p2,p13); nand(p6,p3,p4,p5); nand(p8,p9,p10,p11); endmodule
module t7411(input p1,p2,p13,p3,p4,p5,p9,p10,p11, output p12,p6,p8);
 and(p12,p1,p2,p13); and(p6,p3,p4,p5); and(p8,p9,p10,p11); endmodule
module t7420(input p1,p2,p4,p5,p9,p10,p12,p13, output p6,p8);
 nand(p6,p1,p2,p4,p5); nand(p8,p9,p10,p12,p13); endmodule
module t7421(input p1,p2,p4,p5,p9,p10,p12,p13, output p6,p8);
 and(p6,p1,p2,p4,p5); and(p8,p9,p10,p12,p13); endmodule
module t7427(input p1,p2,p13,p3,p4,p5,p9,p10,p11, output p12,p6,p8);
 nor(p12,p1,p2,p13); nor(p6,p3,p4,p5); nor(p8,p9,p10,p11); endmodule
module t7430(input p1,p2,p3,p4,p5,p6,p11,p12, output p8); nand(p8,p1,p2,p3,p4,p5,p6,p11,p12); endmodule
module t7432(input p1,p2,p4,p5,p9,p10,p12,p13, output p3,p6,p8,p11);
 or(p3,p1,p2); or(p6,p4,p5); or(p8,p9,p10); or(p11,p12,p13); endmodule
module t7486(input p1,p2,p4,p5,p9,p10,p12,p13, output p3,p6,p8,p11);
 xor(p3,p1,p2); xor(p6,p4,p5); xor(p8,p9,p10); xor(p11,p12,p13); endmodule
module t74125(input p1,p2,p4,p5,p9,p10,p12,p13, output p3,p6,p8,p11);
 bufif0(p3,p2,p1); bufif0(p6,p5,p4); bufif0(p8,p9,p10); bufif0(p11,p12,p13); endmodule
module t74126(input p1,p2,p4,p5,p9,p10,p12,p13, output p3,p6,p8,p11);
 bufif1(p3,p2,p1); bufif1(p6,p5,p4); bufif1(p8,p9,p10); bufif1(p11,p12,p13); endmodule
module t74138(input p1,p2,p3,p4,p5,p6, output p15,p14,p13,p12,p11,p10,p9,p7);
 wire na,nb,nc,n4,n5; not(na,p1); not(nb,p2); not(nc,p3); not(n4,p4); not(n5,p5);
 nand(p15,nc,nb,na,n4,n5,p6); nand(p14,nc,nb,p1,n4,n5,p6); nand(p13,nc,p2,na,n4,n5,p6); nand(p12,nc,p2,p1,n4,n5,p6);
 nand(p11,p3,nb,na,n4,n5,p6); nand(p10,p3,nb,p1,n4,n5,p6); nand(p9,p3,p2,na,n4,n5,p6); nand(p7,p3,p2,p1,n4,n5,p6);
endmodule
module half139(input g,a,b, output y0,y1,y2,y3);
 wire ng,na,nb; not(ng,g); not(na,a); not(nb,b);
 nand(y0,ng,na,nb); nand(y1,ng,a,nb); nand(y2,ng,na,b); nand(y3,ng,a,b); endmodule
module t74139(input p1,p2,p3,p15,p14,p13, output p4,p5,p6,p7,p12,p11,p10,p9);
 half139 x(p1,p2,p3,p4,p5,p6,p7); half139 y(p15,p14,p13,p12,p11,p10,p9); endmodule
module t74155(input p1,p2,p3,p13,p14,p15, output p7,p6,p5,p4,p9,p10,p11,p12);
 wire na,nb,n2,n14,n15; not(na,p13); not(nb,p3); not(n2,p2); not(n14,p14); not(n15,p15);
 nand(p7,nb,na,p1,n2); nand(p6,nb,p13,p1,n2); nand(p5,p3,na,p1,n2); nand(p4,p3,p13,p1,n2);
 nand(p9,nb,na,n14,n15); nand(p10,nb,p13,n14,n15); nand(p11,p3,na,n14,n15); nand(p12,p3,p13,n14,n15); endmodule
module t74157(input p1,p15,p2,p3,p5,p6,p11,p10,p14,p13, output p4,p7,p9,p12);
 assign p4 = (p1 ? p3 : p2) & ~p15; assign p7 = (p1 ? p6 : p5) & ~p15;
 assign p9 = (p1 ? p10 : p11) & ~p15; assign p12 = (p1 ? p13 : p14) & ~p15; endmodule
module t74240(input p1,p19,p2,p4,p6,p8,p11,p13,p15,p17, output p18,p16,p14,p12,p9,p7,p5,p3);
 notif0(p18,p2,p1); notif0(p16,p4,p1); notif0(p14,p6,p1); notif0(p12,p8,p1);
 notif0(p9,p11,p19); notif0(p7,p13,p19); notif0(p5,p15,p19); notif0(p3,p17,p19); endmodule
module t74244(input p1,p19,p2,p4,p6,p8,p11,p13,p15,p17, output p18,p16,p14,p12,p9,p7,p5,p3);
 bufif0(p18,p2,p1); bufif0(p16,p4,p1); bufif0(p14,p6,p1); bufif0(p12,p8,p1);
 bufif0(p9,p11,p19); bufif0(p7,p13,p19); bufif0(p5,p15,p19); bufif0(p3,p17,p19); endmodule
module t74245(input p1,p19, inout p2,p3,p4,p5,p6,p7,p8,p9,p18,p17,p16,p15,p14,p13,p12,p11);
 wire ng,nd,ab,ba; not(ng,p19); not(nd,p1); and(ab,ng,p1); and(ba,ng,nd);
 bufif1(p18,p2,ab); bufif1(p17,p3,ab); bufif1(p16,p4,ab); bufif1(p15,p5,ab);
 bufif1(p14,p6,ab); bufif1(p13,p7,ab); bufif1(p12,p8,ab); bufif1(p11,p9,ab);
 bufif1(p2,p18,ba); bufif1(p3,p17,ba); bufif1(p4,p16,ba); bufif1(p5,p15,ba);
 bufif1(p6,p14,ba); bufif1(p7,p13,ba); bufif1(p8,p12,ba); bufif1(p9,p11,ba); endmodule
module t74367(input p1,p15,p2,p4,p6,p10,p12,p14, output p3,p5,p7,p9,p11,p13);
 bufif0(p3,p2,p1); bufif0(p5,p4,p1); bufif0(p7,p6,p1); bufif0(p9,p10,p1); bufif0(p11,p12,p15); bufif0(p13,p14,p15);
endmodule
module t74374(input p1,p11,p3,p4,p7,p8,p13,p14,p17,p18, output p2,p5,p6,p9,p12,p15,p16,p19);
 reg [8:1] q; always @(posedge p11) q = {p18,p17,p14,p13,p8,p7,p4,p3};
 bufif0(p2,q[1],p1); bufif0(p5,q[2],p1); bufif0(p6,q[3],p1); bufif0(p9,q[4],p1);
 bufif0(p12,q[5],p1); bufif0(p15,q[6],p1); bufif0(p16,q[7],p1); bufif0(p19,q[8],p1); endmodule
module t74273(input p1,p11,p3,p4,p7,p8,p13,p14,p17,p18, output p2,p5,p6,p9,p12,p15,p16,p19);
 reg [8:1] q; always @(posedge p11 or negedge p1) if (!p1) q = 0; else q = {p18,p17,p14,p13,p8,p7,p4,p3};
 assign {p19,p16,p15,p12,p9,p6,p5,p2} = q; endmodule
module t74373(input p1,p11,p3,p4,p7,p8,p13,p14,p17,p18, output p2,p5,p6,p9,p12,p15,p16,p19);
 reg [8:1] q; always @* if (p11) q = {p18,p17,p14,p13,p8,p7,p4,p3};
 bufif0(p2,q[1],p1); bufif0(p5,q[2],p1); bufif0(p6,q[3],p1); bufif0(p9,q[4],p1);
 bufif0(p12,q[5],p1); bufif0(p15,q[6],p1); bufif0(p16,q[7],p1); bufif0(p19,q[8],p1); endmodule
module t74174(input p1,p9,p3,p4,p6,p11,p13,p14, output p2,p5,p7,p10,p12,p15);
 reg [6:1] q; always @(posedge p9 or negedge p1) if (!p1) q = 0; else q = {p14,p13,p11,p6,p4,p3};
 assign {p15,p12,p10,p7,p5,p2} = q; endmodule
module t74688(input p1,p2,p3,p4,p5,p6,p7,p8,p9,p11,p12,p13,p14,p15,p16,p17,p18, output p19);
 wire a,b,c,d,e,f,g,h,n; not(n,p1); xnor(a,p2,p3); xnor(b,p4,p5); xnor(c,p6,p7); xnor(d,p8,p9);
 xnor(e,p11,p12); xnor(f,p13,p14); xnor(g,p15,p16); xnor(h,p17,p18); nand(p19,n,a,b,c,d,e,f,g,h); endmodule
