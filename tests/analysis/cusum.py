"""Reference for run lengths: the Poisson CUSUM of Lucas (1985, Technometrics 27:129-144), by its Markov chain."""

from __future__ import annotations

from fractions import Fraction
from math import exp, log

import numpy as np


def reference_value(mean_usual: float, mean_shifted: float) -> float:
    """k = (μd − μa) / (ln μd − ln μa): what a count must exceed to raise the sum."""
    return (mean_shifted - mean_usual) / (log(mean_shifted) - log(mean_usual))


def average_run_length(k: Fraction, h: Fraction, mean: float, start: Fraction = Fraction(0)) -> float:
    """Mean number of counts until S = max(0, S + count − k) reaches h, exactly, on the lattice that k and h share."""
    step = Fraction(1, int(np.lcm(k.denominator, h.denominator)))
    states = int(h / step)
    rise, fall = int(1 / step), int(k / step)
    move = np.zeros((states, states))
    for state in range(states):
        probability = exp(-mean)
        for count in range(states // rise + fall // rise + 2):
            target = max(0, state + count * rise - fall)
            if target < states:
                move[state, target] += probability
            probability *= mean / (count + 1)
    lengths = np.linalg.solve(np.eye(states) - move, np.ones(states))
    return float(lengths[int(start / step)])
