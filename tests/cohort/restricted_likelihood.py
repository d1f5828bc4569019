"""A second computation of the mixed model: one search over the share of variance between people.

With one random intercept the restricted likelihood has a single unknown left. It is looked at over
its whole range here, by numpy and scipy alone, so that no start and no slope can lead astray.
"""

import numpy as np
from scipy import optimize

_SHARES = np.concatenate([np.linspace(0.0, 0.99, 34), 1 - np.logspace(-2.25, -9, 28)])


def searched_difference(values, design, people):
    """Return the second effect, its standard error, and the share of variance between people."""
    same = (people[:, None] == people).astype(float)

    def at(share):
        inverse = np.linalg.inv(np.eye(len(values)) + share / (1 - share) * same)
        normal = design.T @ inverse @ design
        effects = np.linalg.solve(normal, design.T @ inverse @ values)
        rest = values - design @ effects
        scatter = rest @ inverse @ rest
        n_free = len(values) - design.shape[1]
        twice = n_free * np.log(scatter) - np.linalg.slogdet(inverse)[1]
        twice += np.linalg.slogdet(normal)[1]
        return twice, effects[1], np.sqrt(scatter / n_free * np.linalg.inv(normal)[1, 1])

    place = int(np.argmin([at(share)[0] for share in _SHARES]))
    low, high = _SHARES[max(place - 1, 0)], _SHARES[min(place + 1, len(_SHARES) - 1)]
    found = optimize.minimize_scalar(
        lambda share: at(share)[0], bounds=(low, high), method="bounded", options={"xatol": 1e-10}
    )
    share = 0.0 if at(0.0)[0] <= found.fun else found.x
    return *at(share)[1:], share
