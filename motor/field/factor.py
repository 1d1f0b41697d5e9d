"""The factors of one sparse, symmetric, positive definite matrix after another.

CHOLMOD through cvxopt: ordering and symbolic analysis once for a pattern, then numbers anew in
dense blocks of columns (Y. Chen, T. A. Davis, W. W. Hager and S. Rajamanickam, ACM Transactions
on Mathematical Software 35, 2008, article 22).
"""

from __future__ import annotations

import cvxopt
import numpy as np
from cvxopt import cholmod

from motor.base.arrays import Floats
from motor.base.errors import SolveError

__all__ = ["Factor"]


class Factor:
    """The Cholesky factors of matrices that share one pattern.

    Parameters
    ----------
    indptr, indices : (n + 1,) and (k,) arrays
        Pattern of the lower triangle, column after column, rows rising.
    """

    def __init__(self, indptr: np.ndarray, indices: np.ndarray) -> None:
        n = len(indptr) - 1
        columns = np.repeat(np.arange(n), np.diff(indptr))
        self._buffer = cvxopt.matrix(0.0, (len(indices), 1))
        self._values = np.asarray(self._buffer)[:, 0]
        rows = cvxopt.matrix(indices.astype(np.int64))
        self._matrix = cvxopt.spmatrix(self._buffer, rows, cvxopt.matrix(columns), (n, n))
        self._factor = cholmod.symbolic(self._matrix)

    def update(self, data: Floats) -> None:
        """Factorise the matrix with these entries, in the order of the pattern.

        Raises
        ------
        SolveError
            If the matrix is not positive definite.
        """
        self._values[:] = data
        self._matrix.V = self._buffer
        try:
            cholmod.numeric(self._matrix, self._factor)
        except ArithmeticError as cause:
            raise SolveError("the tangent is not positive definite") from cause

    def solve(self, right: Floats) -> Floats:
        """Return the solution for right-hand sides, array (n,) or (n, k)."""
        solution = cvxopt.matrix(right)
        cholmod.solve(self._factor, solution)
        return np.asarray(solution).reshape(right.shape)
