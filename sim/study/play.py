"""Play a study's pieces: here on all cores, or on a dask scheduler's workers; none that is kept again."""

from __future__ import annotations

import pickle
from collections.abc import Callable, Iterator, Sequence

from signals.errors import Unusable
from signals.venue import load
from sim.study.form import Study
from sim.study.store import Store
from sim.study.work import Cell, Piece, model_digest, pieces, play_piece

Told = Callable[[int], None]
"""Told how many sessions have been played."""
WAIT_S = 20


def cells_of(study: Study) -> list[bytes]:
    """Give a study's cells, pickled: what travels to workers and tells cells apart."""
    venue = load(study.venue)
    return [
        pickle.dumps(Cell(venue, study.choices(cell), study.file.hertz, model_digest()), protocol=5)
        for cell in study.cells()
    ]


def remaining(study: Study, store: Store, sessions: int) -> list[Piece]:
    """Give the pieces that are still to be played."""
    wanted = pieces(len(list(study.cells())), study.file.seed, sessions)
    return [piece for piece in wanted if piece not in store.done]


def play_here(cells: Sequence[bytes], left: Sequence[Piece], store: Store, threads: int, told: Told) -> None:
    """Play pieces on this machine's cores."""
    for piece in left:
        store.keep(piece, play_piece(cells[piece.cell], piece, threads))
        told(piece.sessions)


def play_there(cells: Sequence[bytes], left: Sequence[Piece], store: Store, address: str, told: Told) -> None:
    """Play pieces on the workers of a dask scheduler; a worker that dies has its pieces played by others.

    Raises:
        Unusable: dask is not installed, or no scheduler answers.

    """
    for piece, measures in _played(cells, left, address):
        store.keep(piece, measures)
        told(piece.sessions)


def _played(
    cells: Sequence[bytes], left: Sequence[Piece], address: str
) -> Iterator[tuple[Piece, list[tuple[float, ...]]]]:
    try:
        from distributed import Client, as_completed  # noqa: PLC0415 - optional
    except ImportError:
        raise Unusable("dask is not here; get it with: pip install 'kerblight[cluster]'") from None
    try:
        client = Client(address, timeout=WAIT_S, set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        raise Unusable(f"no dask scheduler answers at {address}: {error}") from None
    with client:
        asked = {
            client.submit(play_piece, cells[piece.cell], piece, pure=False, retries=3): piece
            for piece in left
        }
        for future in as_completed(list(asked), loop=client.loop):  # type: ignore[no-untyped-call]
            yield asked[future], future.result()
            future.release()
