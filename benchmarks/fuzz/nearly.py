"""Command lines that are good but for one thing: a number at the end of what numbers can be, a
part spoilt, an option given twice. Found more than lines that are random from end to end."""

from __future__ import annotations

import re
from random import Random

from .pieces import NUMBERS, spoilt

GOOD = (
    "look|TiO2 45nm / SiO2 90nm / glass 1mm ¦ MgF2 100nm",
    "look|5 x (SiO2 90nm / TiO2 60nm) / glass|--angle|45|--observer|10",
    "look|Ti:TiO2 30% 80nm / TiO2->Ti 60nm / n=2.3+0.05i 40nm / Si|--from|front|--spectrum",
    "look|TiO2 0..60nm step 2nm / SiO2 quarter@550nm / Ti",
    "gauge|--film|TiO2(siefke2016)|--on|Ti(johnson1974)|--seen|45,12,-30 angle=20",
    "gauge|--film|TiO2(siefke2016)|--on|Ti(johnson1974)|--seen|#6a3fa0|--between|10..200nm"
    "|--doubt|noise_de=3|--doubt|glare=0.1|--seed|3|--angle|30",
    "tint|Ti|--at|450C|--for|20min|--film|300nm|--angle|10",
    "tint|steel|--at|200..300C|--for|1h|--along|100mm",
    "tint|Ti|--volts|25V|--film|500nm",
    "tint|Ti|--at|450C|--pass|20s",
    "tint|Ti|--want|48,20,-35|--at|450C",
    "assay|--metal|Ti|--seen|gold|--ohms|20ohm|--strip|30mmx5mm|--guess|80nm|--through|OD 2.4",
    "assay|--metal|Ti|--seen|#b08a3c|--ohms|35ohm/sq|--pressure|3e-5mbar|--rate|0.5nm/s",
    "assay|--metal|Al|--mass-gain|0.35mg|--area|12cm2|--ohms|20ohm|--four-point|1mm"
    "|--strip|30mmx5mm",
    "assay|--expect|Ti 80nm on glass",
    "sheet|Al 90nm / SiO2 40nm / glass 4mm|--source|boat|--distance|30cm|--rate|2nm/s|--focus|1.5"
    "|--pressure|1e-5mbar|--size|25x75mm|--offset|10mm|--tilt|5|--tooling|99nm/90nm|--every|10nm",
    "sheet|Al 90nm / glass|--source|wire|--wire|W|--distance|30cm|--wire-diameter|0.8mm"
    "|--wire-length|50mm|--current|25A|--getter|0.3m2|--pumping|50l/s|--made|1:Al 92nm",
    "sheet|Ti 50nm / glass|--source|sputter|--distance|60mm|--ring|50mm|--area|2cm2|--angle|30",
    "design|--on|glass|--goal|R>50% 450..650nm at 20deg x2|--goal|T=5% 700nm within 2%|--with"
    "|Al,SiO2|--max-layers|2|--designs|1|--effort|3|--samples|50|--tolerance|3%,1nm"
    "|--thinnest|5nm|--thickest|200nm|--total|400nm",
    "design|--on|glass 4mm|--goal|colour 48,20,-35 within 5|--with|SiO2,TiO2|--max-layers|2"
    "|--designs|1|--effort|3|--samples|50|--angle|10|--seed|4",
    "materials|TiO2(siefke2016)",
)
_NUMBER = re.compile(r"\d+(?:\.\d+)?(?:e[+-]?\d+)?")


def nearly_good(random: Random) -> list[str]:
    """One of the good lines with one thing changed."""
    line = [part.replace("¦", "|") for part in random.choice(GOOD).split("|")]
    if random.random() < 0.4:
        line.append("--json")
    places = [i for i, part in enumerate(line) if i and _NUMBER.search(part)]
    at = random.choice(places)
    if random.random() < 0.15:
        line[at] = spoilt(random, line[at])
        return line
    found = random.choice(list(_NUMBER.finditer(line[at])))
    number = random.choice(NUMBERS)
    line[at] = line[at][: found.start()] + number + line[at][found.end() :]
    return line
