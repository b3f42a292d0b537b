// Three asynchronous transmitters running at once: 8N1 at 9600, 7E1 at 9600 less 3 %, 8O2 at 38400 bits a second.
// Written for the tests from the usual description of a start-stop frame: start bit 0, data lowest bit first,
// parity, stop bits 1, line at 1 when it rests.
`timescale 1ns/1ps
module sender #(parameter real BIT = 104166.667, parameter DATA = 8, parameter PARITY = 0, parameter STOPS = 1,
                parameter COUNT = 256, parameter real PAUSE = 0, parameter MULTIPLY = 1, parameter ADD = 0) (output reg line);
  integer k, b; reg [7:0] byte_; reg ones;
  initial begin
    line = 1; #(3 * BIT);
    for (k = 0; k < COUNT; k = k + 1) begin
      byte_ = k * MULTIPLY + ADD; ones = 0;
      line = 0; #(BIT);
      for (b = 0; b < DATA; b = b + 1) begin line = byte_[b]; ones = ones ^ byte_[b]; #(BIT); end
      if (PARITY == 2) begin line = ones; #(BIT); end
      if (PARITY == 1) begin line = ~ones; #(BIT); end
      line = 1; #(STOPS * BIT); #(PAUSE);
    end
    #(20 * BIT);
  end
endmodule
module top;
  wire a, b, c;
  sender #(.BIT(104166.667), .MULTIPLY(167), .ADD(13)) first (a);
  sender #(.BIT(107388.316), .DATA(7), .PARITY(2), .COUNT(128), .MULTIPLY(53), .ADD(5), .PAUSE(70000)) second (b);
  sender #(.BIT(26041.667), .PARITY(1), .STOPS(2), .MULTIPLY(91), .ADD(7)) third (c);
  initial begin $dumpfile("uart.vcd"); $dumpvars(0, a, b, c); #400000000 $finish; end
endmodule
