"""How well measured values agree with true ones."""

import numpy as np


def concordance(first, second):
    """Lin's concordance correlation (Lin 1989, Biometrics 45:255), with the divisor n."""
    a, b = np.asarray(first, float), np.asarray(second, float)
    together = np.mean((a - a.mean()) * (b - b.mean()))
    return 2 * together / (a.var() + b.var() + (a.mean() - b.mean()) ** 2)
