"""Bytes and text with something wrong in them."""

from __future__ import annotations

from random import Random

from .pieces import NUMBERS, ODD

_BYTES = (0, 1, 9, 10, 13, 34, 35, 44, 59, 91, 123, 127, 128, 254, 255)
_MOST_BYTES = 2_000_000


def mutated(random: Random, original: bytes, text: bool) -> bytes:
    """A copy with one to a few changes; ``text`` says whether cells and lines mean something."""
    data = original
    for _ in range(random.choice((1, 1, 1, 2, 3, 8))):
        data = _in_text(random, data) if text and random.random() < 0.7 else _in_bytes(random, data)
    return data[:_MOST_BYTES]


def _in_bytes(random: Random, data: bytes) -> bytes:
    at = random.randrange(len(data) + 1)
    end = min(len(data), at + random.choice((1, 2, 4, 16, 200)))
    kind = random.randrange(8)
    if kind == 0 and data:
        at = min(at, len(data) - 1)
        return data[:at] + bytes([data[at] ^ (1 << random.randrange(8))]) + data[at + 1 :]
    if kind == 1:
        return data[:at] + bytes(random.choices(_BYTES, k=random.choice((1, 2, 4)))) + data[end:]
    if kind == 2:
        return data[:at]
    if kind == 3:
        return data[:at] + data[end:]
    if kind == 4:
        return data[:at] + data[at:end] * random.choice((2, 3, 100)) + data[end:]
    if kind == 5:
        return data[:at] + random.randbytes(end - at) + data[end:]
    if kind == 6:  # lengths and sizes stand in four bytes, most of them near the start
        at = random.randrange(min(len(data), 400) + 1)
        big = random.choice(
            (0, 1, 0x7FFFFFFF, 0x80000000, 0xFFFFFFFF, 0x10000, random.getrandbits(32))
        )
        return data[:at] + big.to_bytes(4, random.choice(("big", "little"))) + data[at + 4 :]
    other = random.randrange(len(data) + 1)
    return data[:at] + data[other:]


def _in_text(random: Random, data: bytes) -> bytes:
    lines = data.decode("utf-8", "surrogateescape").splitlines() or [""]
    at = random.randrange(len(lines))
    cells = lines[at].split(",")
    cell = random.randrange(len(cells))
    kind = random.randrange(12)
    if kind == 0:
        cells[cell] = random.choice(NUMBERS)
    elif kind == 1:
        cells[cell] = random.choice(ODD)
    elif kind == 2:
        del cells[cell]
    elif kind == 3:
        cells.insert(cell, random.choice(cells))
    elif kind == 4:
        cells = [random.choice((";", "\t", " ", ",,")).join(cells)]
    lines[at] = ",".join(cells)
    if kind == 5:
        lines[at] = lines[random.randrange(len(lines))]
    elif kind == 6:
        lines.insert(at, lines[random.randrange(len(lines))])
    elif kind == 7:
        del lines[at]
    elif kind == 8:
        most = 1 + _MOST_BYTES // (1 + len(lines[at]))
        lines[at:at] = [lines[at]] * min(random.choice((3, 300, 5000)), most)
    elif kind == 9:
        deep = random.choice((5, 500, 20_000))
        lines[at] += random.choice(("[", "{", "(", '"', "a.")) * deep
    elif kind == 10:
        random.shuffle(lines)
    elif kind == 11:
        lines[at] = lines[at].replace(random.choice(".,-0="), random.choice(ODD[:12]))
    text = random.choice(("\n", "\n", "\n", "\r\n", "\r")).join(lines) + "\n"
    return text.encode("utf-8", "surrogatepass" if random.random() < 0.02 else "replace")
