"""Generates sentences and asks an independent library what they say.

Usage: python make.py > answers.tsv   (with requirements.txt installed)

Each line is a sentence, a tab, and what pynmea2 makes of it in the words of
the tests: `quantity number number`, joined by `|`. The words are made from
pynmea2's own fields, units and validity alone, so that its reading and ours
meet only in the comparison. The generator is its own, so that any Python
gives the same lines.
"""

import sys

import pynmea2
from pynmea2.types import talker

KNOT = 1852.0 / 3600.0


class Chance:
    """A linear congruential generator (Knuth's MMIX constants)."""

    def __init__(self, seed):
        self.state = seed

    def below(self, count):
        self.state = (self.state * 6364136223846793005 + 1442695040888963407) % 2**64
        return (self.state >> 33) % count

    def pick(self, items):
        return items[self.below(len(items))]

    def one_in(self, count):
        return self.below(count) == 0

    def number(self, least, most, decimals=1):
        scale = 10**decimals
        value = least * scale + self.below((most - least) * scale + 1)
        return f"{value / scale:.{decimals}f}"


chance = Chance(20260323)


def summed(content):
    total = 0
    for byte in content[1:].encode("ascii"):
        total ^= byte
    return f"{content}*{total:02X}"


def maybe(text):
    """Now and then nothing."""
    return "" if chance.one_in(9) else text


def angle():
    """A direction, and now and then one that cannot be."""
    if chance.one_in(25):
        return chance.pick(["361.5", "-12.0", "720.0"])
    return chance.number(0, 359)


def knots(most=60):
    if chance.one_in(25):
        return chance.pick(["-3.0", "512.0"])
    return chance.number(0, most)


def status():
    return chance.pick("AAAAAV")


def mode():
    return chance.pick(["", ",A", ",A", ",D", ",N", ",E", ",M", ",S", ",F", ",P", ",R"])


def place():
    if chance.one_in(10):
        return ",,,"
    lat = f"{chance.below(90):02}{chance.number(0, 59, 4).zfill(7)}"
    lon = f"{chance.below(180):03}{chance.number(0, 59, 4).zfill(7)}"
    return f"{lat},{chance.pick('NS')},{lon},{chance.pick('EW')}"


def clock():
    return f"{chance.below(24):02}{chance.below(60):02}{chance.below(60):02}.{chance.below(100):02}"


def variation():
    return chance.pick([",", f"{chance.number(0, 30)},{chance.pick('EW')}"])


def speeds(kn):
    """The same speed in m/s and km/h, or nothing."""
    if kn == "" or chance.one_in(4):
        return "", ""
    return f"{float(kn) * KNOT:.1f}", f"{float(kn) * 1.852:.1f}"


def side_wind():
    kn = maybe(knots())
    ms, kmh = speeds(kn)
    return f"{maybe(chance.number(0, 180))},{chance.pick('LR')},{kn},N,{ms},M,{kmh},K"


def mwd():
    kn = maybe(knots())
    ms, _ = speeds(kn)
    return f"{maybe(angle())},T,{maybe(angle())},M,{kn},N,{ms},M"


def vhw():
    kn = maybe(knots())
    _, kmh = speeds(kn)
    return f"{maybe(angle())},T,{maybe(angle())},M,{kn},N,{kmh},K"


def xdr():
    kinds = [
        lambda: f"A,{maybe(chance.number(-60, 60))},D,{chance.pick(['HEEL', 'ROLL', 'PTCH', 'PITCH', 'TRIM'])}",
        lambda: f"P,{(9500 + chance.below(1000)) / 10000:.4f},B,BARO",
        lambda: f"P,{90000 + chance.below(20000)},P,Barometer",
        lambda: f"C,{chance.number(-20, 40)},C,AirTemp",
        lambda: f"U,{chance.number(9, 15)},V,BATT",
    ]
    return ",".join(chance.pick(kinds)() for _ in range(1 + chance.below(3)))


def mda():
    inches = chance.number(28, 31, 2)
    bar = f"{float(inches) * 0.033863886:.4f}"
    kn = maybe(knots())
    ms, _ = speeds(kn)
    return (
        f"{inches},I,{maybe(bar)},B,{maybe(chance.number(-20, 40))},C,{maybe(chance.number(0, 30))},C,"
        f"{maybe(chance.number(0, 100))},,{maybe(chance.number(-20, 30))},C,"
        f"{maybe(angle())},T,{maybe(angle())},M,{kn},N,{ms},M"
    )


def rmc():
    return (
        f"{maybe(clock())},{status()},{place()},{maybe(knots())},{maybe(angle())},"
        f"{1 + chance.below(28):02}{1 + chance.below(12):02}{chance.below(30):02},{variation()}"
        f"{chance.pick([mode(), ',A,' + chance.pick('SCUV')])}"
    )


OURS = {
    "MWV": lambda: f"{maybe(angle())},{chance.pick('RT')},{maybe(knots())},{chance.pick('KMNS')},{status()}",
    "MWD": mwd,
    "VWR": side_wind,
    "VWT": side_wind,
    "VHW": vhw,
    "VBW": lambda: f"{maybe(chance.number(-5, 20))},{maybe(chance.number(-5, 5))},{status()},"
    f"{chance.number(-5, 20)},{chance.number(-5, 5)},{status()}",
    "VLW": lambda: f"{maybe(chance.number(0, 9999))},N,{maybe(chance.number(0, 99))},N",
    "HDG": lambda: f"{maybe(angle())},{variation()},{variation()}",
    "HDM": lambda: f"{maybe(angle())},M",
    "HDT": lambda: f"{maybe(angle())},T",
    "ROT": lambda: f"{maybe(chance.number(-720, 720))},{status()}",
    "RSA": lambda: f"{maybe(chance.number(-35, 35))},{status()},{maybe(chance.number(-35, 35))},{status()}",
    "RPM": lambda: f"{chance.pick('ES')},{chance.below(3)},{maybe(chance.number(0, 3600))},,{status()}",
    "XDR": xdr,
    "RMC": rmc,
    "GGA": lambda: f"{clock()},{place()},{chance.below(9)},08,0.9,12.4,M,46.9,M,,",
    "GLL": lambda: f"{place()},{clock()},{status()}{mode()}",
    "VTG": lambda: f"{maybe(angle())},T,{maybe(angle())},M,{maybe(knots())},N,,K{mode()}",
    "ZDA": lambda: f"{maybe(clock())},{1 + chance.below(28):02},{1 + chance.below(12):02},{2000 + chance.below(99)},00,00",
    "MDA": mda,
    "DPT": lambda: f"{maybe(chance.number(0, 200))},{chance.number(-3, 3)},",
    "DBT": lambda: f"{maybe(chance.number(0, 600))},f,{maybe(chance.number(0, 200))},M,,F",
    "MTW": lambda: f"{maybe(chance.number(0, 30))},C",
}
PASHR = lambda: (
    f"R,{clock()}0,{maybe(chance.number(0, 359))},T,{maybe(chance.number(-60, 60))},"
    f"{maybe(chance.number(-30, 30))},0.10,0.020,0.020,0.080,1,1"
)

TALKERS = ["II", "IN", "WI", "HC", "HE", "GP", "GN", "YX", "SD", "VW"]


def value(field):
    """pynmea2 leaves a null or unreadable field as None or text."""
    if field in (None, ""):
        return None
    return float(field)


def show(quantity, *numbers):
    return " ".join([quantity, *(f"{number:.4f}" for number in numbers)])


def either(quantity, known, *numbers):
    if not known or any(number is None for number in numbers):
        return f"{quantity} invalid"
    return show(quantity, *numbers)


def bow(degrees):
    degrees %= 360.0
    return degrees - 360.0 if degrees > 180.0 else degrees


def first(*speeds):
    return next((speed for speed in speeds if speed is not None), None)


def scaled(number, factor):
    return None if number is None else number * factor


def read_side(msg, quantity, off_bow, letter, kn, ms, kmh):
    speed = first(value(kn), scaled(value(ms), 1 / KNOT), scaled(value(kmh), 1 / 1.852))
    degrees = value(off_bow)
    if degrees is not None and letter == "L":
        degrees = bow(-degrees)
    return [either(quantity, True, degrees, speed)]


def read_mwv(msg):
    quantity = {"R": "apparent wind", "T": "true wind"}[msg.reference]
    factor = {"N": 1.0, "M": 1 / KNOT, "K": 1 / 1.852, "S": 1609.344 / 1852}[msg.wind_speed_units]
    degrees = value(msg.wind_angle)
    degrees = None if degrees is None else bow(degrees)
    return [either(quantity, msg.is_valid, degrees, scaled(value(msg.wind_speed), factor))]


def read_mwd(msg):
    speed = first(value(msg.wind_speed_knots), scaled(value(msg.wind_speed_meters), 1 / KNOT))
    return [either("ground wind", True, value(msg.direction_true), speed)]


def read_vhw(msg):
    said = []
    if value(msg.heading_true) is not None:
        said.append(show("true heading", value(msg.heading_true)))
    if value(msg.heading_magnetic) is not None:
        said.append(show("magnetic heading", value(msg.heading_magnetic)))
    speed = first(value(msg.water_speed_knots), scaled(value(msg.water_speed_km), 1 / 1.852))
    return [*said, either("water speed", True, speed)]


def read_vbw(msg):
    if not msg.is_valid:
        return ["water speed invalid", "water drift invalid"]
    said = [either("water speed", True, value(msg.lon_water_spd))]
    if value(msg.trans_water_spd) is not None:
        said.append(show("water drift", value(msg.trans_water_spd)))
    return said


def east(degrees, letter):
    degrees = value(degrees)
    return None if degrees is None else degrees * {"E": 1.0, "W": -1.0}[letter]


def read_hdg(msg):
    said = []
    variation = east(msg.variation, msg.var_dir)
    if variation is not None:
        said.append(show("variation", variation))
    heading, deviation = value(msg.heading), east(msg.deviation, msg.dev_dir)
    if deviation is not None:
        return [*said, either("magnetic heading", True, turned(heading, deviation))]
    if heading is None:
        said.append("magnetic heading invalid")
    return [*said, either("compass heading", True, heading)]


def turned(heading, deviation):
    return None if heading is None else (heading + deviation) % 360.0


def read_rsa(msg):
    if msg.rsa_starboard_status == "A":
        return [either("rudder", True, value(msg.rsa_starboard))]
    return [either("rudder", msg.rsa_port_status == "A", value(msg.rsa_port))]


def read_xdr(msg):
    said = []
    names = {
        "HEEL": "heel", "ROLL": "heel", "PTCH": "pitch", "PITCH": "pitch", "TRIM": "pitch",
        "BARO": "pressure", "BAROMETER": "pressure", "AIRTEMP": "air temperature",
    }
    for place in range(msg.num_transducers):
        transducer = msg.get_transducer(place)
        quantity = names.get(transducer.id.upper())
        factor = {"PB": 1000.0, "PP": 0.01}.get(transducer.type + transducer.units, 1.0)
        if quantity:
            said.append(either(quantity, True, scaled(value(transducer.value), factor)))
    return said


def utc(msg, valid):
    if not msg.timestamp or not getattr(msg, "datestamp", None):
        return []
    unix_ms = round(msg.datetime.timestamp() * 1000)
    return [f"utc {unix_ms}" + ("" if valid else " without fix")]


def position(msg):
    if not msg.lat or not msg.lon:
        return "position invalid"
    return show("position", msg.latitude, msg.longitude)


def motion(speed, course):
    if speed is None:
        return "ground motion invalid"
    return show("ground motion", *[number for number in (speed, course) if number is not None])


def read_rmc(msg):
    if not msg.is_valid:
        return [*utc(msg, False), "position invalid", "ground motion invalid"]
    said = [*utc(msg, True), position(msg), motion(value(msg.spd_over_grnd), value(msg.true_course))]
    variation = east(msg.mag_variation, msg.mag_var_dir)
    return said if variation is None else [*said, show("variation", variation)]


def read_zda(msg):
    if not msg.timestamp:
        return []
    return [f"utc {round(msg.datetime.timestamp() * 1000)}"]


def read_mda(msg):
    said = []
    pressure = first(
        scaled(value(msg.b_pressure_bar), 1000.0), scaled(value(msg.b_pressure_inch), 33.863886)
    )
    for quantity, number in [
        ("pressure", pressure),
        ("air temperature", value(msg.air_temp)),
        ("water temperature", value(msg.water_temp)),
        ("humidity", value(msg.rel_humidity)),
    ]:
        if number is not None:
            said.append(show(quantity, number))
    speed = first(value(msg.wind_speed_knots), scaled(value(msg.wind_speed_meters), 1 / KNOT))
    if value(msg.direction_true) is not None and speed is not None:
        said.append(show("ground wind", value(msg.direction_true), speed))
    return said


def read_dbt(msg):
    metres = first(
        value(msg.depth_meters),
        scaled(value(msg.depth_feet), 0.3048),
        scaled(value(msg.depth_fathoms), 1.8288),
    )
    return [either("depth", True, metres)]


def read_pashr(msg):
    said = []
    if value(msg.true_heading) is not None:
        said.append(show("true heading", value(msg.true_heading)))
    return [
        *said,
        either("heel", True, value(msg.roll)),
        either("pitch", True, value(msg.pitch)),
    ]


READ = {
    "MWV": read_mwv,
    "MWD": read_mwd,
    "VWR": lambda m: read_side(
        m, "apparent wind", m.deg_r, m.l_r, m.wind_speed_kn, m.wind_speed_ms, m.wind_speed_km
    ),
    "VWT": lambda m: read_side(
        m, "true wind", m.wind_angle_vessel, m.direction,
        m.wind_speed_knots, m.wind_speed_meters, m.wind_speed_km,
    ),
    "VHW": read_vhw,
    "VBW": read_vbw,
    "VLW": lambda m: [either("log distance", True, value(m.trip_distance))],
    "HDG": read_hdg,
    "HDM": lambda m: [either("magnetic heading", True, value(m.heading))],
    "HDT": lambda m: [either("true heading", True, value(m.heading))],
    "ROT": lambda m: [either("turn rate", m.is_valid, value(m.rate_of_turn))],
    "RSA": read_rsa,
    "RPM": lambda m: [either("engine turns", m.is_valid, value(m.speed))],
    "XDR": read_xdr,
    "RMC": read_rmc,
    "GGA": lambda m: [position(m) if m.is_valid else "position invalid"],
    "GLL": lambda m: [position(m) if m.is_valid else "position invalid"],
    "VTG": lambda m: [motion(value(m.spd_over_grnd_kts), value(m.true_track))],
    "ZDA": read_zda,
    "MDA": read_mda,
    "DPT": lambda m: [either("depth", True, value(m.depth))],
    "DBT": read_dbt,
    "MTW": lambda m: [either("water temperature", True, value(m.temperature))],
}


def answer(line):
    try:
        msg = pynmea2.parse(line, check=True)
        if type(msg).__name__ == "ASHRATT":
            return "|".join(read_pashr(msg))
        read = READ.get(msg.sentence_type)
        return "|".join(read(msg)) if read else "not read by us"
    except (pynmea2.ParseError, ValueError, KeyError, TypeError) as error:
        return f"error {type(error).__name__}"


def others():
    """The types that pynmea2 knows and we leave alone: their fields do not
    matter, only that they are named and harm nothing."""
    names = [name for name in dir(talker) if len(name) == 3 and name.isupper() and name not in OURS]
    for name in sorted(names):
        kind = getattr(talker, name)
        if not hasattr(kind, "fields"):
            continue
        for _ in range(4):
            fields = [chance.pick(["", "1", "12.5", "A", "N"]) for _ in kind.fields]
            yield f"${chance.pick(TALKERS)}{name},{','.join(fields)}"


def corpus():
    for name in sorted(OURS):
        for _ in range(90):
            yield f"${chance.pick(TALKERS)}{name},{OURS[name]()}"
    for _ in range(90):
        yield f"$PASH{PASHR()}"
    yield from others()


def main():
    for content in corpus():
        line = summed(content)
        print(f"{line}\t{answer(line)}")


if __name__ == "__main__":
    sys.exit(main())
