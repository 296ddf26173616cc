"""One small file of every shape that the readers know, with what must come out of it. All are made up."""

from __future__ import annotations

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Sample:
    """``levels`` gives for a channel the (time in ps, level) entries; ``volts`` the samples of a channel."""

    text: str
    reader: str
    resolution_ps: int
    levels: dict[str, list[tuple[int, int]]] = field(default_factory=dict)
    volts: dict[str, list[float]] = field(default_factory=dict)
    stop_ps: int = 0
    notes: int = 0
    start_ps: int = 0


_ROWS = "0,1\n1,1\n1,0\n0,0\n"
_AT_10_MHZ = {"D1": [(0, 0), (100_000, 1), (300_000, 0)], "D3": [(0, 1), (200_000, 0)]}

SAMPLES: dict[str, Sample] = {
    "named channels": Sample(
        "; Channels (2/8): D1, D3\n; Samplerate: 10 MHz\nlogic,logic\n" + _ROWS,
        "sampled rows",
        100_000,
        _AT_10_MHZ,
        stop_ps=400_000,
    ),
    "names in a line": Sample(
        "; made by hand\n; Sample rate: 25 MHz\n; Sample count: 4\nA,B\n" + _ROWS,
        "sampled rows",
        40_000,
        {"A": [(0, 0), (40_000, 1), (120_000, 0)], "B": [(0, 1), (80_000, 0)]},
        stop_ps=160_000,
    ),
    "no names": Sample(
        "; Channels (2/16)\n; Samplerate: 24 MHz\n" + _ROWS,
        "sampled rows",
        41_667,
        {"0": [(0, 0), (41_667, 1), (125_000, 0)], "1": [(0, 1), (83_333, 0)]},
        stop_ps=166_667,
    ),
    "one channel": Sample(
        "; Samplerate: 1 kHz\n0\n1\n1\n", "sampled rows", 10**9, {"0": [(0, 0), (10**9, 1)]}, stop_ps=3 * 10**9
    ),
    "frames": Sample(
        "# Samplerate: 10 MHz\nD1,D3\n0,1\n1,1\nFRAME-END\n1,0\n0,0\n",
        "sampled rows",
        100_000,
        _AT_10_MHZ,
        stop_ps=400_000,
        notes=1,
    ),
    "closed rows": Sample(
        "; Samplerate: 10 MHz\nD1,D3,\n0,1,\n1,1,\n1,0,\n0,0,\n", "sampled rows", 100_000, _AT_10_MHZ, stop_ps=400_000
    ),
    "blank after comma": Sample(
        '; Samplerate: 10 MHz\n"D1", "D3"\n0, 1\n1, 1\n1, 0\n0, 0\n',
        "sampled rows",
        100_000,
        _AT_10_MHZ,
        stop_ps=400_000,
    ),
    "cut short": Sample(
        "; Samplerate: 10 MHz\nD1,D3\n" + _ROWS + "0,", "sampled rows", 100_000, _AT_10_MHZ, stop_ps=400_000, notes=1
    ),
    "sampled with time": Sample(
        "; Samplerate: 10 MHz\nTime [ns],D1,D3\n0,0,1\n100,1,1\n200,1,0\n300,0,0\n",
        "sampled rows",
        100_000,
        _AT_10_MHZ,
        stop_ps=400_000,
    ),
    "sampled with a wrong rate": Sample(
        "; Samplerate: 20 MHz\nTime [ns],D1,D3\n0,0,1\n100,1,1\n200,1,0\n300,0,0\n",
        "sampled rows",
        100_000,
        _AT_10_MHZ,
        stop_ps=400_000,
        notes=1,
    ),
    "changes": Sample(
        "Time(s), D0, D1\n-0.000000100, 0, 1\n0.000000000, 1, 1\n0.000000250, 1, 0\n0.000001000, 1, 0\n",
        "change rows",
        1000,
        {"D0": [(-100_000, 0), (0, 1)], "D1": [(-100_000, 1), (250_000, 0)]},
        stop_ps=1_000_000,
        start_ps=-100_000,
    ),
    "changes with exponents and unknowns": Sample(
        "Time [s],Clock,Data\n0,0,X\n1e-06,1,\n2.5e-06,1,0\n3e-06,0,1\n",
        "change rows",
        100_000,
        {"Clock": [(0, 0), (10**6, 1), (3 * 10**6, 0)], "Data": [(0, 2), (2_500_000, 0), (3 * 10**6, 1)]},
        stop_ps=3_100_000,
    ),
    "changes in ns, semicolons": Sample(
        "time (ns);A;B\n5;0;1\n17;1;1\n400;0;1\n",
        "change rows",
        1000,
        {"A": [(5000, 0), (17_000, 1), (400_000, 0)], "B": [(5000, 1)]},
        stop_ps=401_000,
        start_ps=5000,
    ),
    "changes without a heading": Sample(
        "0,0,1\n0.000001,1,1\n0.000002,0,1\n0.000007,0,0\n",
        "change rows",
        10**6,
        {"0": [(0, 0), (10**6, 1), (2 * 10**6, 0)], "1": [(0, 1), (7 * 10**6, 0)]},
        stop_ps=8 * 10**6,
        notes=1,
    ),
    "volts, two heading rows": Sample(
        "x-axis,1,2\nsecond,Volt,Volt\n-2.0E-06,0.20,3.4\n-1.0E-06,0.21,3.3\n0.0E+00,3.30,3.2\n1.0E-06,3.40,3.1\n",
        "scope columns",
        10**6,
        volts={"1": [0.2, 0.21, 3.3, 3.4], "2": [3.4, 3.3, 3.2, 3.1]},
        stop_ps=2 * 10**6,
        start_ps=-2 * 10**6,
    ),
    "volts in mV, closed rows": Sample(
        "Time (us),Ch A (mV)\n0.00,200,\n0.01,210,\n0.02,3400,\n",
        "scope columns",
        10_000,
        volts={"Ch A": [0.2, 0.21, 3.4]},
        stop_ps=30_000,
    ),
    "preamble above": Sample(
        "Record Length,4\nSample Interval,4.0E-09\nVertical Units,V\nProbe Atten,10\nTIME,CH2\n"
        "0.000E+00,0.1\n4.000E-09,0.2\n8.000E-09,3.0\n1.200E-08,3.1\n",
        "scope columns",
        4000,
        volts={"CH2": [0.1, 0.2, 3.0, 3.1]},
        stop_ps=16_000,
    ),
    "preamble beside": Sample(
        "Record Length,4,,0.0,0.1,\nSample Interval,1e-08,,0.00000001,0.2,\nSource,CH1,,0.00000002,3.0,\n"
        ",,,0.00000003,3.1,\n",
        "scope columns",
        10_000,
        volts={"CH1": [0.1, 0.2, 3.0, 3.1]},
        stop_ps=40_000,
    ),
    "index with increment": Sample(
        "X,CH1,CH2,Start,Increment\nSequence,Volt,Volt,-1.2E-03,2.0E-06\n0,0.2,3.4,,\n1,0.3,3.3,,\n2,3.1,0.2,,\n",
        "scope columns",
        2 * 10**6,
        volts={"CH1": [0.2, 0.3, 3.1], "CH2": [3.4, 3.3, 0.2]},
        start_ps=-1_200_000_000,
        stop_ps=-1_194_000_000,
    ),
    "value change dump": Sample(
        "$date a day $end\n$comment\n made up, 0,1\n$end\n$timescale 10 ns $end\n"
        '$scope module crate $end\n$var wire 1 ! CLK $end\n$scope module slot $end\n$var reg 4 " D [3:0] $end\n'
        "$var wire 1 ! CK2 $end\n$var real 64 # TEMP $end\n$upscope $end\n$upscope $end\n$enddefinitions $end\n"
        '#3\n$dumpvars\n0!\nbx1 "\nr1.5 #\n$end\n#13\n1!\nb101 "\nr2 #\n#33\n$dumpoff\nx!\nbz "\n$end\n'
        '#43\n$dumpon\n0!\nB1010 "\n$end\n$comment b1 ! $end\n1!\n',
        "value change dump",
        10_000,
        {
            "crate.CLK": [(30_000, 0), (130_000, 1), (330_000, 2), (430_000, 1)],
            "crate.slot.D[3]": [(30_000, 2), (130_000, 0), (330_000, 2), (430_000, 1)],
            "crate.slot.D[2]": [(30_000, 2), (130_000, 1), (330_000, 2), (430_000, 0)],
            "crate.slot.D[1]": [(30_000, 2), (130_000, 0), (330_000, 2), (430_000, 1)],
            "crate.slot.D[0]": [(30_000, 1), (330_000, 2), (430_000, 0)],
            "crate.slot.CK2": [(30_000, 0), (130_000, 1), (330_000, 2), (430_000, 1)],
        },
        start_ps=30_000,
        stop_ps=440_000,
        notes=1,
    ),
    "volts and logic side by side": Sample(
        "Time (us),CLK,A (V),EN\n0.00,0,0.25,1\n0.01,1,0.5,1\n0.02,0,3.5,1\n0.03,0,3.25,0\n",
        "scope columns",
        10_000,
        {"CLK": [(0, 0), (10_000, 1), (20_000, 0)], "EN": [(0, 1), (30_000, 0)]},
        {"A": [0.25, 0.5, 3.5, 3.25]},
        stop_ps=40_000,
    ),
    "volts and logic with types": Sample(
        "t,A,CLK\ns,V,logic\n0.0,0.25,1\n0.1,0.5,1\n0.2,3.5,1\n0.3,3.25,0\n",
        "scope columns",
        10**11,
        {"CLK": [(0, 1), (3 * 10**11, 0)]},
        {"A": [0.25, 0.5, 3.5, 3.25]},
        stop_ps=4 * 10**11,
    ),
    "words and logic behind a time": Sample(
        "Time (ns),D[3:2] (hex),CLK\n0,3,0\n10,1,1\n30,X,0\n40,2,1\n",
        "change rows",
        1_000,
        {
            "D[3]": [(0, 1), (10_000, 0), (30_000, 2), (40_000, 1)],
            "D[2]": [(0, 1), (30_000, 2), (40_000, 0)],
            "CLK": [(0, 0), (10_000, 1), (30_000, 0), (40_000, 1)],
        },
        stop_ps=41_000,
    ),
    "words below a preamble": Sample(
        "Gerät,LA 16\nDatum,03.02.2031 10:14:22\nTrigger,RUN steigend\n\nZeit [µs],CLK,RUN,BUS[1:0] (hex)\n"
        "-0.100,0,0,3\n-0.050,1,0,3\n0.000,0,1,1\n0.050,1,1,1\n0.100,0,1,2\n0.150,0,1,2\n",
        "change rows",
        50_000,
        {
            "CLK": [(-100_000, 0), (-50_000, 1), (0, 0), (50_000, 1), (100_000, 0)],
            "RUN": [(-100_000, 0), (0, 1)],
            "BUS[1]": [(-100_000, 1), (0, 0), (100_000, 1)],
            "BUS[0]": [(-100_000, 1), (100_000, 0)],
        },
        start_ps=-100_000,
        stop_ps=150_000,
    ),
    "words a sample": Sample(
        "; Samplerate: 10 MHz\nD,CLK\n0x3,0\n0x1,1\n0xA,0\n",
        "sampled rows",
        100_000,
        {
            "D[3]": [(0, 0), (200_000, 1)],
            "D[2]": [(0, 0)],
            "D[1]": [(0, 1), (100_000, 0), (200_000, 1)],
            "D[0]": [(0, 1), (200_000, 0)],
            "CLK": [(0, 0), (100_000, 1), (200_000, 0)],
        },
        stop_ps=300_000,
    ),
}
