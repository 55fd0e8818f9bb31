"""Writes chain.ndjson: a run file made without our Go code, as a worked example of the chained hash.

Provenance: COMPUTED here, 2026-11-25, with Python's hashlib and the rule of the package comment of
control/runlog (the rule is ours). Run it as: python3 chain.py > chain.ndjson

The first line's body is hashed alone; each other body behind the six digits of the line before:
    h = sha256(previous six digits + body).hexdigest()[:6]
The word 0C601900 is a MAX31855 word: 0C60 >> 2 = 792 quarter degrees = 198 C, 190 hex = 400
sixteenths = 25 C (the chip's datasheet layout).
"""
import hashlib

BODIES = [
    '{"n":0,"record":"head","schema":1,"run":"example","simulated":true,'
    '"start":"2026-11-24T08:00:00Z","unit":"F","shop":{"oven":"oven","limit_c":260,'
    '"channels":["oven air","spine"],"board":"bench-1"},'
    '"gains":{"kp_per_c":0.057,"ti_s":120,"td_s":12,"setpoint_weight":0.5,"from":"example"}',
    '{"n":1,"t_s":0,"event":"start"',
    '{"n":2,"t_s":0.25,"raw":"0C601900,0C641900","t1_c":198.21,"t2_c":199.3,"set_c":204.44,'
    '"blade_c":150.2,"duty_pm":312,"soak_s":12.25',
    '{"n":3,"t_s":0.5,"raw":",0C641900","t2_c":-0.05,"duty_pm":0',
    '{"n":4,"t_s":0.5,"event":"step","step":1',
]

previous = ""
for body in BODIES:
    previous = hashlib.sha256((previous + body).encode()).hexdigest()[:6]
    print(body + ',"h":"' + previous + '"}')
