"""Compiled: a first sequence, each node's nearest ones, the best starts of a fixed sequence (see ``tour`` for the words)."""

from __future__ import annotations

import math

import numpy as np

from platewright.burn.sequence.kernels import Floats, Ints, Nodes, Run, step_cost, take
from platewright.compiled import njit

__all__ = ["choose", "greedy", "neighbours"]


@njit(cache=True)
def _least(entry: Floats, leave: Floats, count: Ints, i: int, j: int) -> float:
    """Return the least squared distance from leaving node i to entering node j, over all their starts."""
    best = np.inf
    for a in range(count[i]):
        for b in range(count[j]):
            dx, dy = leave[i, a, 0] - entry[j, b, 0], leave[i, a, 1] - entry[j, b, 1]
            best = min(best, dx * dx + dy * dy)
    return best


@njit(cache=True)
def neighbours(nodes: Nodes) -> None:
    """Fill in each node's nearest nodes (N, width) [-] and the least distance over all starts (N, width) [mm]."""
    entry, leave, count, near, far = nodes.entry, nodes.leave, nodes.counts, nodes.near, nodes.far
    width = near.shape[1]
    for i in range(len(count)):
        filled = 0
        for j in range(len(count)):
            if i == j:
                continue
            d = math.sqrt(_least(entry, leave, count, i, j))
            if filled == width and d >= far[i, width - 1]:
                continue
            k = min(filled, width - 1)
            while k > 0 and far[i, k - 1] > d:
                near[i, k], far[i, k] = near[i, k - 1], far[i, k - 1]
                k -= 1
            near[i, k], far[i, k] = j, d
            filled = min(filled + 1, width)


@njit(cache=True)
def choose(nodes: Nodes, run: Run) -> float:
    """Choose the best start of every node for a fixed order (dynamic programme over the legs); return the cost [mm]."""
    entry, leave, count, apart = nodes.entry, nodes.leave, nodes.counts, nodes.apart
    seq, pick, at = run
    n = len(count)
    most = entry.shape[1]
    best = np.full((n + 1, most), np.inf)
    came = np.zeros((n + 1, most), dtype=np.int64)
    for p in range(1, n + 1):
        node = seq[p]
        for k in range(count[node]):
            x, y = entry[node, k, 0], entry[node, k, 1]
            if p == 1:
                best[p, k] = step_cost(at[n, 2] - x, at[n, 3] - y, apart)
                continue
            before = seq[p - 1]
            for h in range(count[before]):
                c = best[p - 1, h] + step_cost(leave[before, h, 0] - x, leave[before, h, 1] - y, apart)
                if c < best[p, k]:
                    best[p, k], came[p, k] = c, h
    last, total = 0, np.inf  # int(): callees would be compiled for a bare constant too
    node = seq[n]
    for k in range(count[node]):
        c = best[n, k]
        if not math.isinf(at[n + 1, 0]):
            c += step_cost(leave[node, k, 0] - at[n + 1, 0], leave[node, k, 1] - at[n + 1, 1], apart)
        if c < total:
            last, total = k, c
    for p in range(n, 0, -1):
        take(seq[p], last, entry, leave, at, pick)
        last = came[p, last]
    return total


@njit(cache=True)
def greedy(nodes: Nodes, run: Run) -> None:
    """Write a first sequence: always the nearest start that no child still waits for [mm]."""
    entry, leave, count, parent = nodes.entry, nodes.leave, nodes.counts, nodes.parent
    seq, pick, at = run
    n = len(count)
    waiting = np.zeros(n, dtype=np.int64)
    for i in range(n):
        if parent[i] >= 0:
            waiting[parent[i]] += 1
    done = np.zeros(n, dtype=np.bool_)
    seq[0], seq[n + 1] = n, n + 1
    x, y = at[n, 2], at[n, 3]
    for p in range(1, n + 1):
        node, k, least = (-1), 0, np.inf
        for i in range(n):
            if done[i] or waiting[i] > 0:
                continue
            for c in range(count[i]):
                d = step_cost(entry[i, c, 0] - x, entry[i, c, 1] - y, nodes.apart)
                if d < least:
                    node, k, least = i, c, d
        done[node] = True
        if parent[node] >= 0:
            waiting[parent[node]] -= 1
        take(node, k, entry, leave, at, pick)
        seq[p] = node
        x, y = at[node, 2], at[node, 3]
