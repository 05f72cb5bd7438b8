"""A fake service manager: starts the monitor in ROOT as its account, feeds it
wind over UDP, and listens on SOCKET for what it tells.

Wanted: READY=1 once, WATCHDOG=1 again and again, STOPPING=1 after SIGTERM,
and exit 0. Usage: manager.py ROOT SOCKET
"""

import os
import signal
import socket
import subprocess
import sys
import time

PORT = 47110
WATCHDOG_USEC = 2_000_000
PATIENCE_S = 30


def sentence(body):
    """The body with its checksum and line end."""
    check = 0
    for byte in body.encode():
        check ^= byte
    return f"${body}*{check:02X}\r\n".encode()


def main(root, path):
    manager = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
    manager.bind(path)
    os.chmod(path, 0o777)
    manager.settimeout(0.2)
    account = subprocess.check_output(
        ["chroot", root, "id", "-u", "cringle"], text=True).strip()
    gid = subprocess.check_output(
        ["chroot", root, "id", "-g", "cringle"], text=True).strip()
    monitor = subprocess.Popen(
        ["/usr/sbin/chroot", f"--userspec={account}:{gid}", root, "/usr/bin/cringle", "watch",
         "--port", f"udp:127.0.0.1:{PORT}"],
        env={"NOTIFY_SOCKET": path.removeprefix(root), "HOME": "/var/lib/cringle",
             "WATCHDOG_USEC": str(WATCHDOG_USEC), "STATE_DIRECTORY": "/var/lib/cringle",
             "RUNTIME_DIRECTORY": "/run/cringle", "PATH": "/usr/bin:/bin"},
        stdin=subprocess.DEVNULL)
    wind = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    told, patience = [], time.monotonic() + PATIENCE_S
    while told.count("WATCHDOG=1") < 3 and time.monotonic() < patience:
        wind.sendto(sentence("IIMWV,045.0,R,14.2,N,A") + sentence("IIVHW,,,090.0,M,6.1,N,,"),
                    ("127.0.0.1", PORT))
        try:
            told += manager.recv(4096).decode().split("\n")
        except TimeoutError:
            pass
        if monitor.poll() is not None:
            sys.exit(f"the monitor ended with {monitor.returncode}; it told {told}")
    monitor.send_signal(signal.SIGTERM)
    code = monitor.wait(timeout=PATIENCE_S)
    try:
        while True:
            told += manager.recv(4096).decode().split("\n")
    except TimeoutError:
        pass
    kinds = sorted(set(word for word in told if "=" in word))
    print(f"manager: told {kinds}, {told.count('WATCHDOG=1')} signs of life, exit {code}",
          file=sys.stderr)
    wrong = [word for word in ("READY=1", "STOPPING=1") if told.count(word) != 1]
    if wrong or told.count("WATCHDOG=1") < 3 or code != 0:
        sys.exit(f"wanted READY=1 and STOPPING=1 once, WATCHDOG=1 thrice, exit 0: {told}")


main(*sys.argv[1:])
