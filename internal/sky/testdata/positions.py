#!/usr/bin/python3
"""Writes positions.csv: where two independent packages put the catalogue's stars.

Needs Debian's python3-erfa (IAU SOFA's routines under another licence) and
python3-ephem (XEphem's). Both include refraction at 1010 hPa and 10 C.
Run it in this folder: ./positions.py > positions.csv
"""
import csv
import math
import random

import ephem
import erfa

PLACES = [(51.5, -0.1), (69.65, 18.96), (40.7, -74.0), (19.82, -155.47), (0.35, 32.6), (-1.3, 36.8),
          (-24.6, -70.4), (-33.87, 151.2), (-54.8, -68.3), (35.7, 139.7), (28.6, 77.2), (64.1, -21.9)]
TIMES = ["2020-02-29 03:14:15", "2024-06-21 00:00:00", "2026-03-20 22:30:00", "2026-12-01 21:00:00",
         "2027-08-12 12:34:56", "2031-10-05 04:05:06", "2038-01-19 03:14:07", "2049-07-04 18:00:00"]
RAD = math.pi / 180


def sofa(star, lat, lon, when):
    """Azimuth and altitude, degrees, by erfa.atco13 (UT1 taken as UTC)."""
    date, clock = when.split()
    y, mo, d = map(int, date.split("-"))
    h, mi, s = map(int, clock.split(":"))
    utc = erfa.dtf2d("UTC", y, mo, d, h, mi, s)
    ra, dec = float(star["ra_deg"]) * RAD, float(star["dec_deg"]) * RAD
    mas = RAD / 3600000
    pr = float(star["pm_ra_cosdec_mas"]) * mas / math.cos(dec)
    pd = float(star["pm_dec_mas"]) * mas
    az, zd, *_ = erfa.atco13(ra, dec, pr, pd, 0, 0, *utc, 0, lon * RAD, lat * RAD, 0, 0, 0, 1010, 10, 0.5, 0.55)
    return az / RAD, 90 - zd / RAD


def observer(lat, lon, when):
    o = ephem.Observer()
    o.lat, o.lon, o.date = str(lat), str(lon), when.replace("-", "/")
    o.pressure, o.temp, o.elevation = 1010, 10, 0
    return o


def xephem(star, lat, lon, when):
    body = ephem.FixedBody()
    body._ra, body._dec, body._epoch = float(star["ra_deg"]) * RAD, float(star["dec_deg"]) * RAD, "2000"
    body._pmra, body._pmdec = float(star["pm_ra_cosdec_mas"]), float(star["pm_dec_mas"])
    body.compute(observer(lat, lon, when))
    return body.az / RAD, body.alt / RAD


def main():
    with open("../bright-stars.csv") as f:
        stars = list(csv.DictReader(f))
    chosen = random.Random(7)
    print("star,latitude,longitude,utc,erfa_azimuth,erfa_altitude,ephem_azimuth,ephem_altitude")
    for lat, lon in PLACES:
        for when in TIMES:
            up = [s for s in stars if sofa(s, lat, lon, when)[1] > 10]
            for s in chosen.sample(up, 6):
                values = sofa(s, lat, lon, when) + xephem(s, lat, lon, when)
                print(s["name"], lat, lon, when.replace(" ", "T") + "Z", *("%.5f" % v for v in values), sep=",")
            sun = ephem.Sun()
            sun.compute(observer(lat, lon, when))
            print("Sun", lat, lon, when.replace(" ", "T") + "Z", "", "", "%.5f" % (sun.az / RAD), "%.5f" % (sun.alt / RAD), sep=",")


main()
