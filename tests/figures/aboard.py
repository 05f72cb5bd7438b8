"""Figures of the running monitor: start to first wind, last byte to a frame of
the page, resident memory, share of a processor and writes to disk, with the
recorder on and off.

Two monitors hear the same full 10 Hz instrument set (traffic.py) in real time,
each on a pseudo-terminal, each with its page looked at. Usage: aboard.py PROGRAM BOAT [MINUTES]; 10 minutes
if not said. Everything is written below the directory of $TMPDIR, which must
not be in memory: writes there are not counted by the system.
"""

import json
import os
import pathlib
import random
import socket
import subprocess
import sys
import tempfile
import threading
import time
import tty

import traffic

STARTS = 5
FRAMES = 60


class Page:
    """Somebody who looks at the page: what its stream said last, and when."""

    def __init__(self, port):
        self.port, self.seen, self.at, self.frames = port, {}, 0.0, 0
        threading.Thread(target=self.look, daemon=True).start()

    def look(self):
        """Follows the stream from when the page is there until it ends."""
        while True:
            try:
                link = socket.create_connection(("127.0.0.1", self.port))
                break
            except OSError:
                time.sleep(0.05)
        link.sendall(b"GET /live HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")
        kind = None
        for line in link.makefile("rb"):
            if line.startswith(b"event:"):
                kind = line[6:].strip()
            elif line.startswith(b"data:") and kind == b"view":
                self.at, self.seen = time.monotonic(), json.loads(line[5:])
                self.frames += 1


def free_port():
    """A port of this computer that nobody has."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        return free.getsockname()[1]


class Monitor:
    """A monitor on a pseudo-terminal of its own."""

    def __init__(self, program, boat, directory, recording):
        port = free_port()
        self.line, end = os.openpty()
        tty.setraw(end)
        os.set_blocking(self.line, False)
        self.lost = 0
        directory.mkdir()
        self.events = directory / "told.jsonl"
        keep = ["--record", directory / "recordings", "--keep-free", "1"]
        # What it tells goes to a pipe, as to the journal, not to its disk.
        self.started = time.monotonic()
        self.process = subprocess.Popen(
            [program, "watch", "--json", "--boat", boat, "--state", directory / "state",
             "--page", f"127.0.0.1:{port}", "--port", f"bus=serial:{os.ttyname(end)}?baud=115200",
             *(keep if recording else ["--no-record"])],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            text=True)
        self.end = end
        self.page = Page(port)

    def say(self, lines):
        """Brings it these lines, as a serial line would: it waits for nobody."""
        for line in lines:
            try:
                os.write(self.line, line.encode() + b"\r\n")
            except BlockingIOError:
                self.lost += 1

    def asked(self, name):
        """The fields of a file of the system about this process."""
        text = pathlib.Path(f"/proc/{self.process.pid}/{name}").read_text()
        pairs = (row.split(":", 1) for row in text.splitlines() if ":" in row)
        return {key: int(value.split()[0]) for key, value in pairs
                if value.split() and value.split()[0].isdigit()}

    def processor_s(self):
        """Processor seconds so far, the kernel's for it among them."""
        text = pathlib.Path(f"/proc/{self.process.pid}/stat").read_text()
        fields = text.rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")

    def stop(self):
        """Ends it and waits until it has."""
        self.process.terminate()
        self.process.stdout.close()
        self.process.wait(timeout=30)
        os.close(self.line)
        os.close(self.end)


def is_wind(line):
    """Whether this event says that apparent wind has a source."""
    event = json.loads(line)
    return event.get("event") == "source" and event.get("quantity") == "apparent wind"


def first_wind_s(program, boat, directory):
    """Seconds from the start of the process to its event of a first wind,
    with the instruments already talking."""
    monitor = Monitor(program, boat, directory, recording=True)
    os.set_blocking(monitor.process.stdout.fileno(), False)
    number, told = 0, ""
    while True:
        monitor.say(traffic.beat(number))
        number += 1
        beat_ends = monitor.started + number / traffic.BEATS_PER_SECOND
        while (now := time.monotonic()) < beat_ends:
            told += os_read(monitor.process.stdout)
            *whole, told = told.split("\n")
            if any(is_wind(line) for line in whole):
                monitor.stop()
                return now - monitor.started
            time.sleep(0.002)
        if number > 300:
            sys.exit("no wind after 30 s")


def frames_s(program, boat, directory):
    """Seconds from the last byte of a heading to the first frame of the page
    that has it, each time at another moment of the page's beat."""
    monitor = Monitor(program, boat, directory, recording=False)
    os.set_blocking(monitor.process.stdout.fileno(), False)
    took = []
    shown = lambda: (monitor.page.seen.get("motion") or {}).get("heading_deg")
    said = lambda heading: monitor.say(["$" + traffic.checked(f"HEHDT,{heading:.1f},T")])
    # What is said before the port is open is thrown away there.
    while shown() is None:
        said(15)
        time.sleep(0.2)
    for number in range(FRAMES):
        heading = 10 + number % 2 * 5
        sent = time.monotonic()
        said(heading)
        while shown() != heading:
            os_read(monitor.process.stdout)
            time.sleep(0.001)
            if time.monotonic() - sent > 10:
                sys.exit("the page does not show what was sent")
        took.append(monitor.page.at - sent)
        time.sleep(random.uniform(0.1, 0.6))
    monitor.stop()
    return sorted(took)


def os_read(stream):
    """What is there to be read now."""
    try:
        return os.read(stream.fileno(), 65536).decode()
    except BlockingIOError:
        return ""


def sail(monitors, seconds):
    """Lets all of them hear the traffic for so long."""
    began = time.monotonic()
    for number in range(seconds * traffic.BEATS_PER_SECOND):
        lines = traffic.beat(number)
        for monitor in monitors:
            monitor.say(lines)
            os_read(monitor.process.stdout)
        wait = began + (number + 1) / traffic.BEATS_PER_SECOND - time.monotonic()
        time.sleep(max(0.0, wait))
    return time.monotonic() - began


def main(program, boat, minutes="10"):
    """Prints the figures."""
    with tempfile.TemporaryDirectory() as folder:
        folder = pathlib.Path(folder)
        starts = sorted(first_wind_s(program, boat, folder / f"start-{n}")
                        for n in range(STARTS))
        print(f"start to first wind: {starts[len(starts) // 2]:.2f} s in the middle,"
              f" {starts[-1]:.2f} s at worst of {STARTS}", flush=True)
        frames = frames_s(program, boat, folder / "frames")
        print(f"last byte to a frame of the page: {1000 * frames[FRAMES // 2]:.0f} ms in the"
              f" middle, {1000 * frames[-1]:.0f} ms at worst of {FRAMES}", flush=True)
        monitors = {"on": Monitor(program, boat, folder / "on", recording=True),
                    "off": Monitor(program, boat, folder / "off", recording=False)}
        for monitor in monitors.values():
            os.set_blocking(monitor.process.stdout.fileno(), False)
        took = sail(monitors.values(), int(float(minutes) * 60))
        for recorder, monitor in monitors.items():
            memory, io = monitor.asked("status"), monitor.asked("io")
            hourly = 3600 / took / 1e6
            print(f"recorder {recorder}: resident {memory['VmRSS'] / 1024:.1f} MB"
                  f" (most {memory['VmHWM'] / 1024:.1f}) after {took / 60:.1f} min;"
                  f" {io['write_bytes'] * hourly:.1f} MB an hour to disk in pages,"
                  f" {io['wchar'] * hourly:.1f} MB an hour written in all,"
                  f" {io['syscw'] * 3600 / took:.0f} writes an hour;"
                  f" {100 * monitor.processor_s() / took:.2f} % of a processor here;"
                  f" {monitor.lost} sentences lost on the way;"
                  f" {monitor.page.frames / took:.1f} frames of the page a second")
            monitor.stop()


main(*sys.argv[1:])
