"""Inputs nobody meant: seeds that are right, and bytes knocked out of place."""

import random
from collections.abc import Sequence

# What has upset readers before: quotes, separators, marks, half characters, numbers that are none.
ODD: tuple[bytes, ...] = (
    b"", b"\0", b'"', b"'", b",", b";", b"\t", b"\r", b"\n", b"\r\n", b"\xef\xbb\xbf", b"\xff\xfe",
    b"\xc3", b"\xed\xa0\x80", b"\xf4\x90\x80\x80", "½".encode(), "⅟".encode(), "²".encode(),
    "٣".encode(), "ﷺ".encode(), "\u202e".encode(), "\u200b".encode(), "İ".encode(), b"nan",
    b"inf", b"-0", b"1e308", b"1e999", b"-1", b"9" * 50, b"9" * 5000, b"0" * 40, b"1/0", b"0x1f",
    b"1_000", b"=1+1", b"@", b"+", b"-", b"[", b"]", b"[[", b"{", b"}", b"#", b"\\", b"\\u0000",
    b"%s", b"{0}", b"..", b" " * 300, b"(" * 200, b"[" * 400, b'"' * 33, b"a" * 300, b"2024-02-30",
    b"0000-00-00", b"9999-12-31", b"true", b"null", b"lb", b"fl oz", b" + ", b" - ", b"to", b"x",
)  # fmt: skip


# Seeds: inputs that are right.
HEADER = b"batch,date,produce,cut,pack,jar,trimmed,salt,cure_hours,jars,brine_made,sealed,note\n"
ROWS = (
    b"c1,2024-08-03,carrots,sticks,raw,pint,6 lb 4 oz,,0,9.5,10 cups,9,first of the year\n",
    b'k1,2024-08-17,cucumbers,slices,raw,pint-wide + pint,3.1 kg,3/4 cup,12,4 + 5,3 qt,,"two; s"\n',
    b"b1,2024-09-01,beets,slices,hot,quart,2700 g,,,6 1/2,1500 ml,,'=1+1\n",
)
MEASURES = (
    b"6 lb 4 oz", b"2,7 kg", b"3 lb 2 oz + 2 lb 9 oz - 410 g", b"4 1/2 cups", b"12 fl. oz",
    "1\u00bd qt".encode(), b"1 h 30 min", b"1 day", b"1/2 in", b"12 mm", b"3/4 cup canning salt",
    b"1.250,5 g", b"20-35 lb", b"2 bushels", b"24", b"\xc2\xbd in",
)  # fmt: skip
PLANS = (
    b"produce,cut,pack,jar,as_bought,cure_hours,salt,headspace,name,note\n"
    b"carrot,sticks,raw,pint,20-35 lb,0,,1/2 in,one,\nbeet,slices,hot,quart,12 lb,,,,,late\n",
    b'[[line]]\nproduce = "carrot"\nas_bought = "20-35 lb"\njar = "pint"\n\n'
    b'[[line]]\nproduce = "okra"\ntrimmed = "2 kg"\nheadspace = 0.5\n',
    b"produce;jar;trimmed\ncucumber;pint;2,5 kg\n",
)


def mutated(draw: random.Random, seeds: Sequence[bytes], longest: int = 20_000) -> bytes:
    """A seed with up to eight changes; now and then bytes out of nothing."""
    if draw.random() < 0.02:
        return draw.randbytes(draw.randrange(200))
    text = bytearray(draw.choice(seeds))
    for _ in range(draw.choice((0, 1, 1, 1, 1, 2, 2, 3, 5, 8))):
        _change(draw, text, seeds)
    return bytes(text[:longest])


def _change(draw: random.Random, text: bytearray, seeds: Sequence[bytes]) -> None:
    at = draw.randrange(len(text) + 1)
    to = min(len(text), at + draw.choice((1, 1, 2, 4, 16, 200)))
    kind = draw.randrange(8)
    if kind == 0 and text:
        text[draw.randrange(len(text))] ^= 1 << draw.randrange(8)
    elif kind == 1:
        del text[at:to]
    elif kind == 2:
        text[at:at] = text[at:to] * draw.choice((1, 2, 3, 50))
    elif kind == 3:
        other = draw.choice(seeds)
        begin = draw.randrange(len(other) + 1)
        text[at:to] = other[begin : begin + draw.choice((1, 5, 40))]
    elif kind == 4:
        text[at:to] = draw.randbytes(draw.randrange(1, 5))
    elif kind == 5:
        del text[at:]
    else:
        text[at : at if kind == 6 else to] = draw.choice(ODD)
