"""Why the pitch moves: strings, bends, rolls, the arm, circles, and the way back to the hand.

Conventions
-----------
Everything inside is SI: metres, newtons, kilograms a metre, hertz; pitch differences are cents.
Every function takes a number or an array for the quantity that moves, and gives back the same.
``at`` is a `FrettedString`: one string of one guitar, stopped at one fret.

Symbols in the equations: T tension, mu mass a metre, E Young's modulus, A load-bearing area of
the string, L0 scale length, b speaking length, a length from fret to nut, S all the string that
shares a stretch, kappa = E A / T, and C = 600 / ln 2 cents.
"""
