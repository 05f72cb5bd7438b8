"""Writes a log of an hour's sailing in a rising wind to standard output: bare
NMEA 0183 lines behind TAG blocks with the time, the same at every run.

For comparing two builds of the program on one input, not for judging either.
"""

import math


def checked(text):
    """The text with its checksum."""
    check = 0
    for byte in text.encode():
        check ^= byte
    return f"{text}*{check:02X}"


START_MS = 1_764_050_000_000

for second in range(3600):
    tag = checked(f"c:{START_MS + 1000 * second}")
    swell = math.sin(second / 1.3) + 0.6 * math.sin(second / 0.37)
    gust = 2.0 * math.sin(second / 47.0) + swell
    speed = 11.0 + 20.0 * second / 3600.0 + gust
    angle = 48.0 + 4.0 * math.sin(second / 29.0)
    heel = 8.0 + speed * 0.55 + 2.0 * swell
    for body in (f"IIMWV,{angle:.1f},R,{speed:.1f},N,A",
                 f"IIVHW,085.0,T,,M,{5.5 + speed / 40:.1f},N,,K",
                 "IIHDT,085.0,T",
                 f"IIXDR,A,{heel:.1f},D,HEEL"):
        print(f"\\{tag}\\${checked(body)}", end="\r\n")
