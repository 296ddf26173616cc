// Parts once more, as a hardware language has them. Function tables: TI data sheets, as named in sources.csv.
module m7400(input A1, B1, A2, B2, A3, B3, A4, B4, output Y1, Y2, Y3, Y4);
  nand(Y1, A1, B1); nand(Y2, A2, B2); nand(Y3, A3, B3); nand(Y4, A4, B4);
endmodule
module m7486(input A1, B1, A2, B2, A3, B3, A4, B4, output Y1, Y2, Y3, Y4);
  assign Y1 = A1 != B1, Y2 = A2 != B2, Y3 = A3 != B3, Y4 = A4 != B4;
endmodule
module m74138(input A, B, C, G2A_n, G2B_n, G1, output Y0, Y1, Y2, Y3, Y4, Y5, Y6, Y7);
  assign {Y7, Y6, Y5, Y4, Y3, Y2, Y1, Y0} = (G1 & !G2A_n & !G2B_n) ? ~(8'd1 << {C, B, A}) : 8'hff;
endmodule
module m74151(input D0, D1, D2, D3, D4, D5, D6, D7, A, B, C, G_n, output reg Y, output W);
  wire [7:0] d = {D7, D6, D5, D4, D3, D2, D1, D0};
  always @* Y = G_n ? 1'b0 : d[{C, B, A}];
  assign W = ~Y;
endmodule
module m7485(input A0, A1, A2, A3, B0, B1, B2, B3, IALTB, IAEQB, IAGTB, output reg OALTB, OAEQB, OAGTB);
  wire [3:0] a = {A3, A2, A1, A0}, b = {B3, B2, B1, B0};
  always @* begin
    {OALTB, OAEQB, OAGTB} = 3'b000;
    if (a < b) OALTB = 1; else if (a > b) OAGTB = 1;
    else if (IAEQB) OAEQB = 1;
    else begin OALTB = !IAGTB; OAGTB = !IALTB; end
  end
endmodule
module m74181(input A0, A1, A2, A3, B0, B1, B2, B3, S0, S1, S2, S3, M, CN, output F0, F1, F2, F3, CN4, AEQB);
  wire [3:0] a = {A3, A2, A1, A0}, b = {B3, B2, B1, B0};
  wire [4:0] x = a | (S0 ? b : 4'd0) | (S1 ? ~b : 4'd0), y = (S2 ? a & ~b : 4'd0) | (S3 ? a & b : 4'd0);
  wire [4:0] sum = {1'b0, x[3:0]} + {1'b0, y[3:0]} + (CN ? 5'd0 : 5'd1);
  assign {F3, F2, F1, F0} = M ? ~(x[3:0] ^ y[3:0]) : sum[3:0];
  assign CN4 = ~sum[4];
  assign AEQB = {F3, F2, F1, F0} == 4'hf;
endmodule
module m7474(input CLR1_n, D1, CLK1, PRE1_n, PRE2_n, CLK2, D2, CLR2_n, output Q1, Q1_n, Q2, Q2_n);
  half a(CLR1_n, D1, CLK1, PRE1_n, Q1, Q1_n), b(CLR2_n, D2, CLK2, PRE2_n, Q2, Q2_n);
endmodule
module half(input clr, d, clk, pre, output q, qn);
  reg s;
  always @(posedge clk or negedge clr or negedge pre) if (!pre) s <= 1; else if (!clr) s <= 0; else s <= d;
  assign q = pre ? s : 1'b1, qn = clr ? ~s | ~pre & ~clr : 1'b1;
endmodule
module m74161(input CLR_n, CLK, A, B, C, D, ENP, LOAD_n, ENT, output QA, QB, QC, QD, RCO);
  reg [3:0] q;
  always @(posedge CLK or negedge CLR_n)
    if (!CLR_n) q <= 0; else if (!LOAD_n) q <= {D, C, B, A}; else if (ENP & ENT) q <= q + 1;
  assign {QD, QC, QB, QA} = q, RCO = (&q) & ENT;
endmodule
module m74163(input CLR_n, CLK, A, B, C, D, ENP, LOAD_n, ENT, output QA, QB, QC, QD, RCO);
  reg [3:0] q;
  always @(posedge CLK) if (!CLR_n) q <= 0; else if (!LOAD_n) q <= {D, C, B, A}; else if (ENP & ENT) q <= q + 1;
  assign {QD, QC, QB, QA} = q, RCO = (&q) & ENT;
endmodule
module m74164(input A, B, CLK, CLR_n, output QA, QB, QC, QD, QE, QF, QG, QH);
  reg [7:0] q;
  always @(posedge CLK or negedge CLR_n) if (!CLR_n) q <= 0; else q <= {q[6:0], A & B};
  assign {QH, QG, QF, QE, QD, QC, QB, QA} = q;
endmodule
module m74175(input CLR_n, D1, D2, CLK, D3, D4, output Q1, Q1_n, Q2, Q2_n, Q3, Q3_n, Q4, Q4_n);
  reg [3:0] q;
  always @(posedge CLK or negedge CLR_n) if (!CLR_n) q <= 0; else q <= {D4, D3, D2, D1};
  assign {Q4, Q3, Q2, Q1} = q, {Q4_n, Q3_n, Q2_n, Q1_n} = ~q;
endmodule
module m74193(input A, B, C, D, UP, DOWN, LOAD_n, CLR, output QA, QB, QC, QD, CO_n, BO_n);
  reg [3:0] q;
  always @(posedge UP) if (DOWN & !CLR & LOAD_n) q = q + 1;
  always @(posedge DOWN) if (UP & !CLR & LOAD_n) q = q - 1;
  always @(CLR or LOAD_n or A or B or C or D) if (CLR) q = 0; else if (!LOAD_n) q = {D, C, B, A};
  assign {QD, QC, QB, QA} = q, CO_n = ~(&q & ~UP), BO_n = ~(q == 0 & ~DOWN);
endmodule
module m74194(input CLR_n, SR, A, B, C, D, SL, S0, S1, CLK, output QA, QB, QC, QD);
  reg [3:0] q;  // QA is the highest bit here
  always @(posedge CLK or negedge CLR_n)
    if (!CLR_n) q <= 0;
    else case ({S1, S0}) 2'b01: q <= {SR, q[3:1]}; 2'b10: q <= {q[2:0], SL}; 2'b11: q <= {A, B, C, D}; endcase
  assign {QA, QB, QC, QD} = q;
endmodule
