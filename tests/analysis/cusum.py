"""References for run lengths: cumulative sums of counts and of normal values, each computed exactly.

Counts: Lucas 1985, Technometrics 27:129-144, by its Markov chain.
"""

from __future__ import annotations

from fractions import Fraction
from math import exp, log

import numpy as np
from scipy.special import ndtr


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


def upper_sums(values: np.ndarray, target: float, k: float) -> np.ndarray:
    """Page's upper sums S = max(0, S + value − target − k) after each value (Page 1954, Biometrika 41:100-115)."""
    sums, sum_now = np.zeros(len(values)), 0.0
    for n, value in enumerate(values):
        sum_now = sums[n] = max(0.0, sum_now + value - target - k)
    return sums


def normal_run_length(k: float, h: float, shift: float, points: int = 96) -> float:
    """Mean number of standard normal values, shifted, until the upper sum passes h.

    The integral equation of Page, solved on a Gauss-Legendre grid (Goel & Wu 1971, Technometrics 13:221-230).
    """
    nodes, weights = np.polynomial.legendre.leggauss(points)
    at, weight = h * (nodes + 1) / 2, h * weights / 2
    # Unknown: the mean run from 0 and from each node; from a sum s it goes on to 0 or to any sum below h.
    start = np.concatenate([[0.0], at])
    to_zero = ndtr(k - shift - start)
    density = np.exp(-0.5 * (at[None, :] - start[:, None] + k - shift) ** 2) / np.sqrt(2 * np.pi)
    move = np.column_stack([to_zero, density * weight])
    return float(np.linalg.solve(np.eye(points + 1) - move, np.ones(points + 1))[0])


def two_sided_run_length(k: float, h: float, shift: float) -> float:
    """The same for sums on both sides: their rates of alarm add up."""
    return 1.0 / (1.0 / normal_run_length(k, h, shift) + 1.0 / normal_run_length(k, h, -shift))
