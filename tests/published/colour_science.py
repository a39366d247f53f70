"""Writes the reference values that the general-purpose library colour-science gives.

    python3 -m venv venv
    venv/bin/pip install colour-science==0.4.7
    venv/bin/python colour_science.py

Fills the columns L, a, b of cooksey_2017.csv and writes colour_science.csv, both beside this file, and
prints the class counts that stand in chardon_1991.csv. The tests read the tables; nobody needs Python to
run them.
"""

import csv
import math
import pathlib
import warnings

warnings.filterwarnings("ignore")

import colour  # noqa: E402
import numpy as np  # noqa: E402

HERE = pathlib.Path(__file__).parent
WAVELENGTHS_NM = range(380, 731, 10)
LIGHTS = (
    "A D50 D65 FL2 FL7 FL11 LED-B1 LED-B2 LED-B3 LED-B4 LED-B5 LED-BH1 LED-RGB1 LED-V1 LED-V2"
).split()
OBSERVERS = {
    "2": "CIE 1931 2 Degree Standard Observer",
    "10": "CIE 1964 10 Degree Standard Observer",
}
# The same formulas stand in colour_science.rs.
SPECTRA = {
    "red": lambda nm: 0.04 + 0.70 / (1.0 + math.exp(-(nm - 590.0) / 15.0)),
    "green": lambda nm: 0.05 + 0.50 * math.exp(-(((nm - 540.0) / 35.0) ** 2)),
    "blue": lambda nm: 0.05 + 0.60 * math.exp(-(((nm - 450.0) / 30.0) ** 2)),
    "fair": lambda nm: 0.30 + 0.40 * (nm - 380.0) / 350.0,
    "black": lambda nm: 0.004 + 0.002 * (nm - 380.0) / 350.0,
}


def lab(reflectances, light, observer):
    """CIELAB of 36 reflectances by ASTM E308 over 360-830 nm; the white is a reflectance of 1."""
    observer = colour.MSDS_CMFS[OBSERVERS[observer]]
    light = colour.SDS_ILLUMINANTS[light]

    def xyz(values):
        sd = colour.SpectralDistribution(dict(zip(WAVELENGTHS_NM, values)))
        return colour.sd_to_XYZ(
            sd, observer, light, method="ASTM E308", use_practice_range=False
        )

    white = xyz([1.0] * len(WAVELENGTHS_NM))
    # The library takes its white as x, y; Y = 100 on both sides.
    return colour.XYZ_to_Lab(xyz(reflectances) / 100.0, colour.XYZ_to_xy(white))


def write(name, note, header, rows):
    with open(HERE / name, "w", newline="") as file:
        file.write(f"# {note}\n")
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(header)
        writer.writerows(rows)


def skins():
    with open(HERE / "cooksey_2017.csv") as file:
        rows = list(csv.reader(line for line in file if not line.startswith("#")))
    nanometres = [str(nm) for nm in WAVELENGTHS_NM]
    columns = [rows[0].index(nm) for nm in nanometres]
    for row in rows[1:]:
        texts = [row[column] for column in columns]
        values = lab([float(text) for text in texts], "D65", "10")
        yield [row[0], *(f"{value:.5f}" for value in values), *texts]


def lights():
    for name, formula in SPECTRA.items():
        values = [formula(nm) for nm in WAVELENGTHS_NM]
        for light in LIGHTS:
            for observer in OBSERVERS:
                numbers = lab(values, light, observer)
                yield [name, light, observer, *(f"{number:.5f}" for number in numbers)]


def print_statistics(table):
    """Mean, spread and skin-angle classes of rows of L*, a*, b*."""
    print("mean", table.mean(axis=0).round(4))
    print("standard deviation", table.std(axis=0, ddof=1).round(4))
    angles = np.degrees(np.arctan((table[:, 0] - 50.0) / table[:, 2]))
    limits = [90.0, 55.0, 41.0, 28.0, 10.0, -30.0, -90.0]
    for upper, lower in zip(limits, limits[1:]):
        count = int(((angles <= upper) & (angles > lower)).sum())
        print(f"above {lower} to {upper} degrees: {count}")
    nearest = min(abs(angle - limit) for angle in angles for limit in limits)
    print(f"nearest to a limit: {nearest:.3f} degrees")


if __name__ == "__main__":
    library = f"colour-science {colour.__version__}"
    rows = list(skins())
    write(
        "cooksey_2017.csv",
        f"Reflectance factors: Cooksey, Allen, Tsai (2017). L, a, b: {library}, D65/10.",
        ["subject", "L", "a", "b", *WAVELENGTHS_NM],
        rows,
    )
    write(
        "colour_science.csv",
        f"L, a, b: {library}, ASTM E308 over 360-830 nm. The spectra are formulas.",
        ["spectrum", "illuminant", "observer", "L", "a", "b"],
        lights(),
    )
    print_statistics(np.array([[float(text) for text in row[1:4]] for row in rows]))
