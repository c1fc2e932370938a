"""A small build for the tests of parts and cuts: a dry pump with a suction, a DC supply, hose, nozzles and odd sizes.

Invented for the test. Counted by hand in test_parts.py.
"""

SHELF = """
title = "Shelf pump"
about = "Invented for the test: a dry pump on a shelf, on a battery and a panel."
units = "US"

[site]
coldest_water = "66 degF"
warmest_water = "80 degF"

[fish]
species = "channel catfish"
density = "0.08 lb/gal"
body_mass = "14 oz"
feeding_rate = "1.2 %/d"
protein = "32 %"

[plants]
crop = "lettuce"

[power]
voltage = "24 V"
wire = "AWG 12 stranded"
wire_length = "12 ft"
battery = "lead-acid AGM"
capacity = "100 Ah"
panel = "300 W"
latitude = "40 deg"

[pipe]
standard = "Sch 40"

[vessels."fish tank"]
kind = "fish tank"
shape = "round"
diameter = "4 ft"
height = "32 in"
floor = "10 in"
working_depth = "28 in"

[vessels.bed]
kind = "bed"
shape = "rectangular"
length = "6 ft"
width = "3 ft"
height = "14 in"
floor = "24 in"
working_depth = "9 in"
medium = "pea gravel 12 mm"
media_depth = "12 in"

[vessels.sump]
kind = "sump"
shape = "rectangular"
length = "4 ft"
width = "3 ft"
height = "24 in"
floor = "-12 in"
working_depth = "15 in"

[lines.main]
kind = "pumped"
from = "sump"
pump = "demo 24 V 60 W external"
control = { kind = "timer", on = "15 min", off = "30 min", cut_out_depth = "4 in" }

[[lines.main.suction]]
name = "out of the sump"
size = "1 1/2 in"
length = "2 ft"
fittings = { "pipe entrance" = 1 }

[[lines.main.suction]]
name = "to the pump"
size = "1-1/4 in"
length = "3 ft"
fittings = { "90 elbows" = 1 }
valve = "gate valve"

[[lines.main.pipe]]
name = "riser"
size = "1 in"
length = "12 ft"
fittings = { "elbow 90" = 2, "swing check valve" = 1, "adapter" = 1 }

[[lines.main.pipe]]
name = "jets"
after = "riser"
size = "3/4 in"
length = "4 ft"
fittings = { "tee run" = 1, "reducer" = 1 }
to = "fish tank"
outlet = "44 in"
nozzle_bore = "0.4 in"
nozzles = 3

[[lines.main.pipe]]
name = "hose"
after = "riser"
bore = "16 mm"
length = "6 ft"
fittings = { "tee branch" = 1, "hose barb" = 2, "hose bend" = 2 }
valve = "ball valve"
to = "bed"
outlet = "42 in"

[lines."tank overflow"]
kind = "overflow"
from = "fish tank"
to = "sump"
lip = "38 in"
outlet = "6 in"
size = "2 in"
length = "5 ft"
fittings = { "bulkhead fitting" = 1, "elbow 45" = 2, "tee run" = 1 }
vented = true

[lines."bed siphon"]
kind = "bed drain"
from = "bed"
to = "sump"
lip = "33 in"
outlet = "6 in"
size = "1 in"
length = "4 ft"
fittings = { "elbow 90" = 1 }
siphon = { vent = "26 in" }
"""
