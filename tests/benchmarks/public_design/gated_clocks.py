"""An 8-bit computer of 74AC packages (hardware TAPR OHL 1.0, programs GPL 3): registers clocked through gates, both
edges of the clock used, an adder whose carry ripples, asynchronous memories, one two-way bus, a line to wait.

    git clone --recurse-submodules https://github.com/imihajlow/ccpu /tmp/gated_clocks
    python3 -m pip install PyYAML unix-ar

The submodule, in ``model/74xx``, is https://github.com/imihajlow/74xx-verilog (GPL 3). The board round the processor
is ours: two memories behind a two-way buffer. The upper one asks for two cycles of waiting; both hold anything at
power-up. The design's own assembler and linker make the programs: tests of its authors, and their decimal arithmetic
called by a few lines of ours. At three quarters of this period the authors' test of the adder fails: the carry needs
the time.
"""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

from tests.benchmarks.public_design.design import Design, Net, bits

_PROGRAMS = {
    "multiply": "model/test/test_cpu.asm",
    "alu": "app/test/alutest.asm",
    "shift": "app/test/shift_test.asm",
    "memory": "app/memcheck/memcheck.asm",
    "decimal_mul": "",
    "decimal_div": "",
    "decimal_add": "",
}
_LIBRARY = ("bcdf", "bcdf_addsub", "bcdf_mul", "bcdf_div")
_DECIMAL = """
    .global bcdf_{operation}
    .global bcdf_op_a
    .global bcdf_op_b
    .section text
    nop
begin:
    ldi a, 16
fill:
    ldi ph, hi(bcdf_op_a)
    ldi pl, lo(bcdf_op_a)
    add pl, a
    ldi b, 3
    st b
    ldi ph, hi(bcdf_op_b)
    ldi pl, lo(bcdf_op_b)
    add pl, a
    ldi b, 7
    st b
    dec a
    ldi ph, hi(fill)
    ldi pl, lo(fill)
    jnc
    ldi a, 0
    ldi ph, hi(bcdf_op_a)
    ldi pl, lo(bcdf_op_a)
    st a
    inc pl
    st a
    ldi ph, hi(bcdf_op_b)
    ldi pl, lo(bcdf_op_b)
    st a
    inc pl
    st a
    ldi ph, hi(bcdf_{operation})
    ldi pl, lo(bcdf_{operation})
    jmp
    ldi ph, hi(begin)
    ldi pl, lo(begin)
    jmp
"""


def _prepare(fetched: Path, folder: Path, program: str) -> None:
    if not folder.exists():
        folder.mkdir()
        parts = sorted((fetched / "model/74xx").glob("*.v"))
        if not parts:
            raise FileNotFoundError(f"{fetched / 'model/74xx'}: no parts there, expected a clone with its submodule")
        for file in (*(fetched / "model").glob("*.v"), *parts):
            shutil.copy(file, folder)
    sources = [fetched / _PROGRAMS[program]]
    if not _PROGRAMS[program]:
        sources = [folder / "main.asm", *(fetched / f"app/lib/{name}.asm" for name in _LIBRARY)]
        operation = program.removeprefix("decimal_")
        sources[0].write_text(_DECIMAL.format(operation=operation))
    objects = [folder / f"{source.stem}.o" for source in sources]
    tools = fetched / "tools"
    for source, made in zip(sources, objects, strict=True):
        subprocess.run(["python3", tools / "asm.py", "-o", made, source], check=True, capture_output=True)
    link = [
        "python3",
        tools / "link.py",
        "--type=hex",
        "--slim",
        "--fit-strategy=simple",
        "-o",
        folder / "program.hex",
        *objects,
    ]
    subprocess.run(link, check=True, capture_output=True)


_BOARD = """
  wire [15:0] a; wire [7:0] d, d_mem, d_in; wire n_oe, n_we, n_rdy;
  cpu DUT(clk, reset, a, d, n_oe, n_we, n_rdy);
  assign #12 d_in = d_mem;
  assign d = n_oe ? 8'bz : d_in;
  assign #12 d_mem = n_oe ? d : 8'bz;
  async_ram #(.A_WIDTH(15)) low(a[14:0], d_mem, n_oe, n_we, a[15]);
  async_ram #(.A_WIDTH(15)) high(a[14:0], d_mem, n_oe, n_we, ~a[15]);
  integer waited = 0, waits = 2;
  wire slow = a[15] & DUT.cu.addr_dp;
  assign #12 n_rdy = slow & (waited < waits);
  always @(posedge clk) begin
    if (slow && waited < waits) waited <= #9 waited + 1;
    else begin
      waited <= #9 0;
      if (varying) waits <= #9 $urandom(power_up) % 4;
    end
  end
  integer cell_number;
  initial begin
    #1 for (cell_number = 0; cell_number < 32768; cell_number = cell_number + 1) begin
      low.storage[cell_number] = $urandom(power_up);
      high.storage[cell_number] = $urandom(power_up);
    end
    $readmemh("program.hex", low.storage);
  end
"""
_CONTROL_GATES = (
    *("inc_ip", "we_cycle_d", "cycle_d", "n_we_mem", "we_ir", "n_oe_d_di", "addr_dp", "swap_p", "n_oe_alu_di"),
    *("we_a", "we_b", "n_we_flags"),
)
_POINTER_GATES = ("n_selector", "n_a_we_l", "n_b_we_h", "n_a_oe_addr", "n_b_oe_addr", "a_cnt", "b_cnt")
_ALU_GATES = ("adder_c_in", "swap", "n_sa_ena", "n_sb_ena", "n_adder_oe", "adder_carry_ena")
_LATCHES = ("cycle", "supercycle", "we_cycle")


def _control(name: str, driver: str, width: int = 1) -> Net:
    return Net("control_unit.v", "DUT.cu", name, driver, width)


def _alu(name: str, driver: str, width: int = 1) -> Net:
    return Net("alu.v", "DUT.alu_inst", name, driver, width)


GATED_CLOCKS = Design(
    name="gated_clocks",
    half_ns=600,
    sources=(
        *("cpu.v", "alu.v", "adder.v", "control_unit.v", "pointer_pair.v", "pointer_reg.v", "gp_reg_a.v"),
        *("gp_reg_b.v", "async_ram.v", "counter_74161.v", "buffer_74244.v", "buffer_74240.v", "d_ff_7474.v"),
        *("decoder_74138.v", "decoder_74139.v", "mux_74157.v", "register_74273.v"),
    ),
    board=_BOARD,
    nets=(
        Net("cpu.v", "DUT", "ir_out", ".q(ir_out),", 8),
        Net("cpu.v", "DUT", "flags_out", ".Q(flags_out),", 4),
        Net("cpu.v", "DUT", "flags_in", ".flags(flags_in),", 4),
        Net("cpu.v", "DUT", "a", ".addr_out(a),", 16),
        *(Net("cpu.v", "DUT", name, f"assign #10 {name} =") for name in ("ir_w_clk", "a_w_clk", "b_w_clk")),
        Net("gp_reg_a.v", "DUT.reg_a", "d", ".q(d));", 8),
        Net("gp_reg_b.v", "DUT.reg_b", "d", ".q(d));", 8),
        _alu("adder_r", ".r(adder_r),", 8),
        _alu("xor_r", ".xor_ab(xor_r));", 8),
        _alu("decoded_op", ".n_o(decoded_op),", 8),
        *(_alu(name, f"assign #20 {name} =") for name in _ALU_GATES),
        Net("adder.v", "DUT.alu_inst.adder_inst", "c_ripple", "assign #40 c_ripple =", 8),
        *(_control(name, f"assign #10 {name} =") for name in _CONTROL_GATES),
        *(_control(name, f".q({name}),") for name in _LATCHES),
        _control("p_selector", ".q(p_selector),"),
        _control("n_cycle", ".n_q(n_cycle),"),
        _control("n_cycle_flip_ena", ".n_q(n_cycle_flip_ena),"),
        _control("n_decoded_flag", ".n_o(n_decoded_flag),", 4),
        _control("n_decoded_oe_reg_alu", ".n_o(n_decoded_oe_reg_alu),", 4),
        *(Net("pointer_pair.v", "DUT.reg_p", name, f"assign #20 {name} =") for name in _POINTER_GATES),
        Net("bench.v", "bench", "d_in", "assign #12 d_in =", 8),
        Net("bench.v", "bench", "n_rdy", "assign #12 n_rdy ="),
    ),
    buses={
        **bits("DI", "DUT.d_int", 8),
        **bits("ALUB", "DUT.alu_b", 8),
        **bits("D", "d", 8),
        **bits("LO", "DUT.reg_p.reg_a.lo", 8),
        "n_oe": "n_oe",
        "RESET": "reset",
    },
    programs=tuple(_PROGRAMS),
    prepare=_prepare,
    waits=True,
)
