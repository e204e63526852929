"""The list of what is to buy as rows of a table: amounts as numbers, and as one says them."""

from jarcast.app.harvest import Answer
from jarcast.harvest.shopping import ToBuy
from jarcast.views.harvest import amount_words, need_words

HEADER = (
    "thing", "name", "acid_percent", "amount", "measure", "have", "buy", "to_pay", "currency",
)  # fmt: skip


def shopping_rows(answer: Answer) -> list[list[str]]:
    """Header and a row for each thing on the list; ``to_pay`` is empty without a price."""
    bill = answer.shopping
    if bill is None:
        return [list(HEADER)]
    return [list(HEADER), *(_row(line, answer, bill.sign) for line in bill.lines)]


def _row(line: ToBuy, answer: Answer, sign: str) -> list[str]:
    need = line.need
    pieces = " + ".join(f"{count} x {size.text or size.amount}" for size, count in line.pieces)
    return [
        need.thing.value,
        need_words(line),
        "" if need.acid_percent is None else f"{need.acid_percent:g}",
        f"{line.amount:.2f}".rstrip("0").rstrip("."),
        need.measure,
        amount_words(line, answer.asked.units),
        pieces,
        "" if line.to_pay is None else f"{line.to_pay:.2f}",
        sign,
    ]
