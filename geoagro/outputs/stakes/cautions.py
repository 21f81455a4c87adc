"""What can hurt people who mark and plant; printed on every sheet.

Sources: buried services are to be located before ground is opened (29 CFR 1926.651 (b)); there is no single safe
angle for tractors, gradient, surface and load are to be judged each time (HSE, farm vehicles); makers of ride-on
machines allow 15 degrees at most, up and down and never across the face. Tools: common practice, no source.
"""

from geoagro.values.words import say

SERVICES = say("Have cables and pipes located before any stake, hole or ditch. They may lie shallow.")
SLOPES = say(
    "Rows on contour make machines drive across the slope. Judge every slope and surface; where it is steep, work by "
    "hand, or drive straight up and down with roll bar and belt."
)
TOOLS = say(
    "Carry blades covered and points down. Keep two arm's lengths apart. Guard your eyes when driving stakes; flag what "
    "stands at knee height."
)
CAUTIONS = ((say("Services underground"), SERVICES), (say("Machines on slopes"), SLOPES), (say("Tools"), TOOLS))
