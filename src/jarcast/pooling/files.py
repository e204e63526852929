"""Reduce households' exports and pool them, on one core, several, or a cluster.

A worker reads a file a line at a time and returns sums alone; the rows stay where they are.
"""

import hashlib
import json
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from importlib import import_module
from pathlib import Path
from typing import Any, NamedTuple

from msgspec import Struct

from jarcast.batchtable import read_csv
from jarcast.domain.jars import MEASURE_IT
from jarcast.errors import BatchError, BeliefsError, JarcastError, a_line_each
from jarcast.files.shipped import shipped
from jarcast.learning.model.beliefs import Beliefs, beliefs_from, starting_beliefs
from jarcast.pooling.combine import combine
from jarcast.pooling.reduce import Reduced, reduce_household
from jarcast.pooling.write import Change, beliefs_text, changes, pooled_document, write_beliefs

# Of a jar that is not known here, as it is no household's shelf that is looked at.
_LEAVE_OUT = (
    "A file does not say what a jar of one's own holds, so it cannot be pooled: leave its batches "
    "out of the file"
)
CHUNK = 8  # files given to a worker at a time: each task costs a cluster some 2 ms
Tell = Callable[[int, int], None]


class _Answer(NamedTuple):
    """A file as one household, or why it cannot be used; ``digest`` is that of its bytes."""

    household: Reduced | None
    digest: str
    problem: str


def reduce_files(
    paths: Sequence[Path],
    *,
    jobs: int = 1,
    scheduler: str | None = None,
    tell: Tell | None = None,
) -> list[Reduced]:
    """Reduce each file to one household, in the order given.

    What a household says is relative to the beliefs that come with jarcast where the work is done.
    ``jobs`` is the number of processes on this machine. With ``scheduler``, the address of a Dask
    scheduler, its workers are used instead; they must find the files under the same names. ``tell``
    is called with how many files are done, and of how many. Raises BatchError naming every file
    that cannot be used, and JarcastError when the cluster cannot be reached.
    """
    _refuse_twice([str(path.resolve()) for path in paths], paths, "is given twice")
    # Processes are kept for the next work, in the folder where they were started.
    sent = paths if scheduler is not None else [path.absolute() for path in paths]
    chunks = [sent[i : i + CHUNK] for i in range(0, len(sent), CHUNK)]
    answers: list[_Answer] = []
    with _workers(scheduler):
        for found in _spread(chunks, 1 if len(chunks) == 1 else jobs, scheduler):
            answers += found
            if tell is not None:
                tell(len(answers), len(paths))
    problems = [
        answer.problem.replace(str(there), str(path))
        for answer, there, path in zip(answers, sent, paths, strict=True)
        if answer.problem
    ]
    if problems:
        raise BatchError(_refused(problems, len(paths)), tuple(problems))
    _refuse_twice([a.digest for a in answers], paths, "holds exactly the same batches as {other}")
    return [answer.household for answer in answers if answer.household is not None]


def _spread(chunks: Sequence[Sequence[Path]], jobs: int, scheduler: str | None) -> Any:
    if jobs == 1 and scheduler is None:
        return (_reduce_chunk(chunk) for chunk in chunks)
    from joblib import Parallel, delayed

    many = -1 if scheduler is not None else jobs
    work = (delayed(_reduce_chunk)(chunk) for chunk in chunks)
    return Parallel(n_jobs=many, batch_size=1, return_as="generator")(work)


@contextmanager
def _workers(scheduler: str | None) -> Iterator[None]:
    """Where joblib sends its work meanwhile: to a Dask cluster, or to processes on this machine."""
    if scheduler is None:
        yield
        return
    try:
        connect: Any = import_module("dask.distributed").Client
    except ImportError as error:
        raise JarcastError(
            "a cluster needs dask, which is not installed; "
            "install it with: pip install 'jarcast[cluster]'"
        ) from error
    from joblib import parallel_config

    try:
        client = connect(scheduler, timeout="10s", set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise JarcastError(
            f"no Dask scheduler answers at '{scheduler}': {error}; start one with "
            "'dask scheduler', or give the address it prints, such as tcp://127.0.0.1:8786"
        ) from error
    with closing(client), parallel_config(backend="dask", client=client):
        yield


def _reduce_chunk(paths: Sequence[Path]) -> list[_Answer]:
    return [_reduce_file(path) for path in paths]


def _reduce_file(path: Path) -> _Answer:
    """What a worker does; a problem is returned, so that all of them can be listed."""
    try:
        if path.exists() and not path.is_file():  # it is read twice
            raise BatchError(f"{path} cannot be read twice; save the export to a file first")
        batches = [entry.batch for entry in read_csv(path).entries]
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256").hexdigest()
        if not batches:
            return _Answer(None, digest, f"{path} has a header but no batches under it")
        return _Answer(reduce_household(batches), digest, "")
    except BatchError as error:
        said = str(error).removesuffix("; nothing was read in")
        return _Answer(None, "", said.replace(MEASURE_IT, _LEAVE_OUT))


def _refused(problems: Sequence[str], files: int) -> str:
    if files == 1 or len(problems) == 1:
        return f"{problems[0]}; nothing was written"
    head = f"{len(problems)} of {files} files cannot be used; nothing was written:"
    return f"{head}\n{a_line_each(problems)}"


def _refuse_twice(keys: Sequence[str], paths: Sequence[Path], why: str) -> None:
    """Raises BeliefsError: a household counted twice would pass for two that agree."""
    seen: dict[str, Path] = {}
    for key, path in zip(keys, paths, strict=True):
        other = seen.setdefault(key, path)
        if other is not path:
            raise BeliefsError(
                f"{path} {why.format(other=other)}; a household counts once, so leave one out. "
                "Nothing was written"
            )


class PooledFile(Struct, frozen=True):
    """A beliefs file that was written, what it rests on, and what changed in it.

    ``reduced`` are the households, in the order of their files.
    """

    path: Path
    households: int
    batches: int
    changes: tuple[Change, ...]
    reduced: tuple[Reduced, ...]


def pool_files(
    paths: Sequence[Path],
    to: Path,
    *,
    jobs: int = 1,
    scheduler: str | None = None,
    tell: Tell | None = None,
) -> PooledFile:
    """Pool households' exports into a beliefs file, all of them or none.

    Raises the errors of ``reduce_files``, BeliefsError where there is too little to pool, and
    JarcastError where the file cannot be written.
    """
    households = reduce_files(paths, jobs=jobs, scheduler=scheduler, tell=tell)
    raw, pooled = _published(), combine(households, starting_beliefs())
    document = pooled_document(pooled, raw, starting_beliefs())
    beliefs_from(json.loads(beliefs_text(document)), str(to))  # refuses what could not be read back
    write_beliefs(document, to)
    moved = tuple(changes(document, raw))
    return PooledFile(to, pooled.households, pooled.batches, moved, tuple(households))


def pooled_beliefs(households: Sequence[Reduced]) -> Beliefs:
    """The beliefs that these households give. Raises BeliefsError as ``combine``."""
    beliefs = starting_beliefs()
    document = pooled_document(combine(households, beliefs), _published(), beliefs)
    return beliefs_from(document, "pooled beliefs")


def _published() -> dict[str, Any]:
    text = shipped("models", "starting-beliefs.json").read_text(encoding="utf-8")
    found: dict[str, Any] = json.loads(text)
    return found
