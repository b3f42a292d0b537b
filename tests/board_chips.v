// Programmable chips for the tests, set down from the data sheets' register descriptions as hardware would do it:
// an 8255 in mode 0 with single bits of port C (Intel 231308), and an MC6821 (DS9435, from memory).  Unlike the product
// they are clocked by their strobes and drive real wires.  They share nothing with the product's tables.
module chip8255(input cs_, rd_, wr_, input [1:0] a, input reset, inout [7:0] d, pa, pb, pc);
  reg [7:0] la, lb, lc; reg ia, ib, icu, icl;
  always @(posedge reset) begin la = 0; lb = 0; lc = 0; ia = 1; ib = 1; icu = 1; icl = 1; end
  always @(posedge wr_) if (!cs_ && !reset) case (a)
    0: la = d;
    1: lb = d;
    2: lc = d;
    3: if (d[7]) begin ia = d[4]; icu = d[3]; ib = d[1]; icl = d[0]; la = 0; lb = 0; lc = 0; end
       else lc[d[3:1]] = d[0];
  endcase
  assign pa = ia ? 8'bz : la;
  assign pb = ib ? 8'bz : lb;
  assign pc = {icu ? 4'bz : lc[7:4], icl ? 4'bz : lc[3:0]};
  assign d = (cs_ || rd_) ? 8'bz : (a == 0) ? pa : (a == 1) ? pb : (a == 2) ? pc : 8'bz;
endmodule

module chip6821(input e, rw, cs, input [1:0] rs, input reset_, inout [7:0] d, pa, pb, input ca1, cb1, inout ca2, cb2,
                output irqa_, irqb_);
  reg [7:0] oa, ob, da, db; reg [5:0] ca, cb; reg fa1, fa2, fb1, fb2, wa, wb;  // w: waiting in a handshake
  integer k;
  wire [7:0] ina, inb;
  always @(negedge reset_) begin
    oa = 0; ob = 0; da = 0; db = 0; ca = 0; cb = 0; fa1 = 0; fa2 = 0; fb1 = 0; fb2 = 0; wa = 0; wb = 0;
  end
  always @(negedge e) if (cs && reset_) begin
    if (!rw) case (rs)
      0: if (ca[2]) oa = d; else da = d;
      1: ca = d[5:0];
      2: if (cb[2]) begin ob = d; if (cb[5:3] == 4) wb = 1; end else db = d;
      3: cb = d[5:0];
    endcase
    else case (rs)
      0: if (ca[2]) begin fa1 = 0; fa2 = 0; if (ca[5:3] == 4) wa = 1; end
      2: if (cb[2]) begin fb1 = 0; fb2 = 0; end
    endcase
  end
  always @(posedge ca1) if (reset_ && ca[1]) begin fa1 = 1; wa = 0; end
  always @(negedge ca1) if (reset_ && !ca[1]) begin fa1 = 1; wa = 0; end
  always @(posedge cb1) if (reset_ && cb[1]) begin fb1 = 1; wb = 0; end
  always @(negedge cb1) if (reset_ && !cb[1]) begin fb1 = 1; wb = 0; end
  genvar g;
  generate for (g = 0; g < 8; g = g + 1) begin : pin
    assign pa[g] = da[g] ? oa[g] : 1'bz;
    assign pb[g] = db[g] ? ob[g] : 1'bz;
    assign inb[g] = db[g] ? ob[g] : pb[g];
  end endgenerate
  assign ca2 = !ca[5] ? 1'bz : ca[4] ? ca[3] : !wa;
  assign cb2 = !cb[5] ? 1'bz : cb[4] ? cb[3] : !wb;
  assign irqa_ = !(fa1 && ca[0]);
  assign irqb_ = !(fb1 && cb[0]);
  wire [7:0] out = rs == 0 ? (ca[2] ? pa : da) : rs == 1 ? {fa1, fa2, ca} : rs == 2 ? (cb[2] ? inb : db)
                                                                             : {fb1, fb2, cb};
  assign d = (e && rw && cs) ? out : 8'bz;
endmodule
