"""Writes the reference values that the general-purpose library iadpython gives.

    python3 -m venv venv
    venv/bin/pip install iadpython==0.5.3 numpy==2.4.6 scipy==1.17.1
    venv/bin/python iadpython.py

Writes iadpython.csv beside this file. Prints how far the values move when the number of angles is halved, and
what README.md quotes of the published cases. The test reads the table; nobody needs Python to run it.
"""

import csv
import importlib.metadata
import pathlib
import sys

HERE = pathlib.Path(__file__).parent
# This file is named after the library, which must not be looked for here.
sys.path = [path for path in sys.path if pathlib.Path(path or ".").resolve() != HERE.resolve()]

import iadpython  # noqa: E402

# Refractive index, asymmetry, albedo, optical thickness.
SLABS = [
    (1.0, 0.0, 0.9, 1.0),
    (1.0, 0.0, 1.0, 8.0),
    (1.0, 0.5, 0.5, 2.0),
    (1.0, 0.5, 0.99, 16.0),
    (1.0, 0.65, 0.8, 0.5),
    (1.0, 0.65, 0.99, 10.0),
    (1.0, 0.9, 0.95, 4.0),
    (1.335, 0.0, 0.5, 0.3),
    (1.335, 0.5, 0.9, 3.0),
    (1.335, 0.65, 0.1, 1.0),
    (1.335, 0.65, 0.9, 1.0),
    (1.335, 0.65, 0.99, 5.0),
    (1.335, 0.65, 0.999, 30.0),
    (1.335, 0.9, 0.99, 20.0),
    (1.5, 0.0, 0.1, 0.5),
    (1.5, 0.0, 0.9, 2.0),
    (1.5, 0.0, 1.0, 4.0),
    (1.5, 0.5, 0.5, 1.0),
    (1.5, 0.5, 0.99, 30.0),
    (1.5, 0.65, 0.1, 0.5),
    (1.5, 0.65, 0.5, 0.1),
    (1.5, 0.65, 0.5, 1.0),
    (1.5, 0.65, 0.9, 1.0),
    (1.5, 0.65, 0.9, 5.0),
    (1.5, 0.65, 0.99, 2.0),
    (1.5, 0.65, 0.99, 10.0),
    (1.5, 0.65, 0.999, 40.0),
    (1.5, 0.65, 1.0, 3.0),
    (1.5, 0.65, 1.0, 40.0),
    (1.5, 0.9, 0.9, 1.0),
    (1.5, 0.9, 0.99, 8.0),
    (1.5, 0.9, 1.0, 20.0),
]
# The most nodes of one Radau rule whose weights the library still sums to 1 within 1e-8; it takes one rule
# where no light is caught inside, else a rule each for what is caught and what leaves.
NODES = 24


def fluxes(n, asymmetry, albedo, depth, nodes):
    """Reflected and passed of a perpendicular beam, then of diffuse light, with both surfaces and no glass."""
    slab = iadpython.Sample(
        n=n,
        n_above=1.0,
        n_below=1.0,
        g=asymmetry,
        a=albedo,
        b=depth,
        quad_pts=nodes if n == 1.0 else 2 * nodes,
    )
    return slab.rt()


if __name__ == "__main__":
    library = f"iadpython {importlib.metadata.version('iadpython')}"
    moved = [0.0] * 4
    with open(HERE / "iadpython.csv", "w", newline="") as file:
        file.write(f"# {library}: shares of a perpendicular beam, and of diffuse light, reflected and passed.\n")
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(
            "n asymmetry albedo optical_thickness beam_reflected beam_passed diffuse_reflected diffuse_passed".split()
        )
        for slab in SLABS:
            values = fluxes(*slab, NODES)
            halved = fluxes(*slab, NODES // 2)
            moved = [max(most, abs(a - b)) for most, a, b in zip(moved, values, halved)]
            writer.writerow([*slab, *(f"{value:.6f}" for value in values)])
    print("van de Hulst:", *(f"{value:.6f}" for value in fluxes(1.0, 0.75, 0.9, 2.0, NODES)[:2]))
    print("Giovanelli:", f"{fluxes(1.5, 0.0, 0.9, 1e6, NODES)[0]:.6f}")
    print(library, "moved by halving:", *(f"{most:.1e}" for most in moved))
