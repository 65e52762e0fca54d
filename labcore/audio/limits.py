"""What a recording may be, and the numbers its warnings go by.

All are project choices unless a source is named.
"""

LEAST_RATE_HZ = 8_000.0  # a headset in call mode
MOST_RATE_HZ = 192_000.0
CALL_RATE_HZ = 16_000.0  # up to here it is a headset in call mode (common practice, no source)
MOST_CHANNELS = 8
LEAST_DURATION_S = 0.5
MOST_DURATION_S = 1800.0
# Long takes at high rates are brought down while they are read, so that half an hour stays under
# 400 MB. Nothing we measure lies above 5 kHz.
LONG_S = 600.0
LONG_RATE_HZ = 44_100.0  # never brought below this

BLOCK_FRAMES = 65_536  # looked at together
HELD_SAMPLES = 2**24  # of all channels; more are decoded twice instead of held
MOST_UNSEEKABLE_BYTES = 512 * 2**20  # of a stream that cannot be wound back

SILENCE_DB = -75.0  # loudest 50 ms; the hiss of an open 16-bit input lies about here
QUIET_DB = -45.0
LEVEL_FRAME_S = 0.05

HOT_PEAK = 4.0  # float samples above 12 dB over full scale are in some other scale
OFFSET = 0.005  # share of full scale a mean may be off zero unremarked
CLIP_RUN = 4  # neighbours at the top: a full-scale low E has at most three
CLIP_FLAT = 2.0 / 32_768.0  # within two steps of 16 bit of the largest sample
CLIP_CORNER = 5.0  # so many times that much is left in the one sample beside the flat top
CLIP_SHARE = 1e-4
CLIP_LEAST_PEAK = 0.25

MOST_REPAIRED = 50  # lost samples that are filled in ...
MOST_REPAIRED_RUN = 4  # ... if no more than this many lie side by side
CUT_S = 0.1  # a shortfall against the header up to this long is rounding
