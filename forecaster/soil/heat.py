"""Heat conduction from a surface forcing down to planting depth, at every frequency."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
SECONDS_PER_DAY = 86_400.0


def transfer(
    omega: Floats, depth_m: float, diffusivity_m2_s: float, exchange_length_m: float
) -> NDArray[np.complex128]:
    r"""Return the complex response of soil at a depth to a forcing above the surface.

    Homogeneous half-space, conduction only, with a film (air, thatch, cover) between the
    forcing and the surface that passes heat in proportion to the difference across it.

    Parameters
    ----------
    omega : (n,) array
        Angular frequency, rad/s, ≥ 0.
    depth_m : float
        Depth below the surface, m, ≥ 0.
    diffusivity_m2_s : float
        Thermal diffusivity κ, m²/s, > 0.
    exchange_length_m : float
        L = conductivity / surface exchange coefficient, m, ≥ 0; 0 ties surface to forcing.

    Returns
    -------
    (n,) complex array
        H(ω) = exp(−z·q) / (1 + L·q), q = (1 + i)·√(ω/2κ).

    Notes
    -----
    Carslaw & Jaeger 1959, Conduction of Heat in Solids, 2nd ed., §2.6 (periodic surface
    temperature) and §2.8 (exchange at the surface); section numbers from memory.
    """
    q = (1.0 + 1.0j) * np.sqrt(omega / (2.0 * diffusivity_m2_s))
    return np.exp(-depth_m * q) / (1.0 + exchange_length_m * q)
