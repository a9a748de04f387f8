"""The treated arm of the 6-MP trial: what every curve of waiting is held against.

Freireich et al., Blood 1963;21:699, as in Gehan 1965; weeks of remission, and whether a relapse ended them. The curve
(data read) was recomputed with lifelines.
"""

from __future__ import annotations

TIMES = [6, 6, 6, 6, 7, 9, 10, 10, 11, 13, 16, 17, 19, 20, 22, 23, 25, 32, 32, 34, 35]
RELAPSED = [True, True, True, False, True, False, True, False, False, True, True,
            False, False, False, True, True, False, False, False, False, False]  # fmt: skip
STEPS = [6, 7, 10, 13, 16, 22, 23]
SHARES = [0.857143, 0.806723, 0.752941, 0.690196, 0.627451, 0.537815, 0.448179]
