"""Ten minutes of a full instrument set at 10 Hz: ten sentences a beat, a
hundred a second, from a boat close-hauled in a slowly rising wind.

As a program it writes a log to standard output: bare NMEA 0183 lines behind
TAG blocks with the time. `traffic.py SECONDS` writes fewer or more.
"""

import math
import sys

START_MS = 1_764_050_000_000
BEATS_PER_SECOND = 10


def checked(text):
    """The text with its checksum."""
    check = 0
    for byte in text.encode():
        check ^= byte
    return f"{text}*{check:02X}"


def beat(number):
    """The sentences of one tenth of a second, without line ends."""
    second = number / BEATS_PER_SECOND
    swell = math.sin(second / 1.3) + 0.6 * math.sin(second / 0.37)
    speed = 12.0 + second / 100.0 + 2.0 * math.sin(second / 47.0) + swell
    angle = 42.0 + 4.0 * math.sin(second / 29.0) + swell
    stw = 6.2 + 0.2 * swell
    heel = 8.0 + speed * 0.55 + 2.0 * swell
    heading = 85.0 + 3.0 * math.sin(second / 17.0)
    clock = f"{12 + int(second) // 3600:02d}{int(second) // 60 % 60:02d}{second % 60:05.2f}"
    east = 2.0 + second * 0.0017
    place = f"5001.2000,N,004{east:07.4f},W"
    return ["$" + checked(body) for body in (
        f"WIMWV,{angle:.1f},R,{speed:.1f},N,A",
        f"WIMWV,{angle * 1.35:.1f},T,{speed * 0.75:.1f},N,A",
        f"VWVHW,{heading:.1f},T,{heading + 2:.1f},M,{stw:.2f},N,{stw * 1.852:.2f},K",
        f"HEHDT,{heading:.1f},T",
        f"TIROT,{3.0 * swell:.1f},A",
        f"IIXDR,A,{heel:.1f},D,HEEL,A,{1.5 * swell:.1f},D,PITCH",
        f"GPRMC,{clock},A,{place},{stw + 0.3:.1f},{heading + 4:.1f},251125,,,A",
        f"GPVTG,{heading + 4:.1f},T,,M,{stw + 0.3:.1f},N,{(stw + 0.3) * 1.852:.1f},K,A",
        f"GPGGA,{clock},{place},1,10,0.9,2.0,M,47.0,M,,",
        f"SDDPT,{40.0 + swell:.1f},0.5,",
    )]


def main(seconds):
    """Writes the log."""
    for number in range(seconds * BEATS_PER_SECOND):
        tag = checked(f"c:{START_MS + 1000 * number // BEATS_PER_SECOND}")
        for line in beat(number):
            print(f"\\{tag}\\{line}", end="\r\n")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 600)
