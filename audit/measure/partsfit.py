"""Whether a full mix is the sum of its parts: the share of its energy that the best sum of them explains.

    PartsFitMeter(names)   .add(blocks), .explained(target, candidates) -> float

Fed in lock step with one mono sum a stem. What is kept is the Gram matrix, Σ aᵢ·aⱼ in float64, from every
fourth frame only: a sum of stems at fixed gains holds at each single sample, so it also holds for any
selection of them, without a filter before it.

Not covered, and so lowering the share: gains that change (automation), a mix that starts earlier or later
than its parts (a lag is not searched), polarity flips of one part, and what a master bus adds. An equaliser
and a limiter on the mix typically leave more than 0.6.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from audit.errors import BadSamplesError

EVERY = 4

RIDGE = 1e-9
"""Added to the unit diagonal, so that two equal stems (a duplicate) do not make the matrix singular. Costs at
most a billionth of the energy explained."""


class PartsFitMeter:
    """names: one for each stem, in the order the blocks come in. Memory: one matrix, and one block."""

    def __init__(self, names: tuple[str, ...]) -> None:
        if len(set(names)) != len(names):
            raise BadSamplesError("two stems of one name cannot be told apart")
        self.names = names
        self._gram = np.zeros((len(names), len(names)))
        self._skip = 0  # frames to the next one that counts

    def add(self, blocks: Sequence[npt.NDArray[np.float32]]) -> None:
        """One mono block a stem, in the order of `names`, all of one length (zeros where a stem has ended).

        Raises BadSamplesError where count or lengths differ.
        """
        if len(blocks) != len(self.names) or len({block.shape for block in blocks}) > 1:
            raise BadSamplesError(f"{len(self.names)} mono blocks of one length are needed")
        if not blocks or blocks[0].ndim != 1:
            raise BadSamplesError("a stem is handed over as one mono block")
        length = len(blocks[0])
        rows = np.stack([block[self._skip :: EVERY] for block in blocks]).astype(np.float64)
        self._skip = (self._skip - length) % EVERY
        self._gram += rows @ rows.T

    def explained(self, target: str, candidates: tuple[str, ...]) -> float:
        """0 … 1: share of the target's energy in the best sum of the candidates, each at one gain ≥ 0.

        0.0 where the target or every candidate is silent. Raises BadSamplesError for a name not known.
        """
        missing = {target, *candidates} - set(self.names)
        if missing:
            raise BadSamplesError(f"no stem of this name was heard: {sorted(missing)}")
        aim = self.names.index(target)
        energy = self._gram[aim, aim]
        rows = [self.names.index(name) for name in dict.fromkeys(candidates) if name != target]
        rows = [row for row in rows if self._gram[row, row] > 0.0]
        if energy <= 0.0 or not rows:
            return 0.0
        from scipy.linalg import cholesky, solve_triangular
        from scipy.optimize import nnls

        norms = np.sqrt(np.diag(self._gram)[rows])
        gram = self._gram[np.ix_(rows, rows)] / np.outer(norms, norms)
        shared = self._gram[rows, aim] / norms / np.sqrt(energy)
        # |A g − t|² = |U g − U⁻ᵀ Aᵀt|² + a constant, with UᵀU = AᵀA: least squares without the samples.
        upper = cholesky(gram + RIDGE * np.eye(len(rows)))
        gains, _ = nnls(upper, solve_triangular(upper, shared, trans="T"))
        return float(np.clip(2.0 * shared @ gains - gains @ gram @ gains, 0.0, 1.0))
