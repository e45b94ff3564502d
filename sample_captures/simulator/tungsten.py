"""Tungsten from 300 K to 3600 K.

Resistivity: Forsythe and Worthing 1925 as reprinted in the CRC Handbook (agrees within 0.3 % with Jones 1926, except at
1100 K and 1200 K). Specific heat: Shomate equation of NIST-JANAF (Chase 1998), 183.84 g/mol. Total emissivity: CRC
"properties of tungsten", from memory, unverified; a filament's area is chosen to meet its rated power, so only the shape of
this column matters.
"""

import numpy as np

REFERENCE_K = 300.0
STEFAN_BOLTZMANN_W_PER_M2_K4 = 5.670374419e-8

TEMPERATURE_K = np.arange(300.0, 3601.0, 100.0)
RESISTIVITY_UOHM_CM = np.array([
    5.65, 8.06, 10.56, 13.23, 16.09, 19.00, 21.94, 24.93, 27.94, 30.98, 34.08, 37.19, 40.36, 43.55, 46.78, 50.05, 53.35,
    56.67, 60.06, 63.48, 66.91, 70.39, 73.91, 77.49, 81.04, 84.70, 88.33, 92.04, 95.76, 99.54, 103.3, 107.2, 111.1, 115.0])
EMISSIVITY = np.array([
    0.032, 0.042, 0.053, 0.064, 0.076, 0.088, 0.101, 0.114, 0.128, 0.143, 0.158, 0.175, 0.192, 0.207, 0.222, 0.236, 0.249,
    0.260, 0.270, 0.279, 0.288, 0.296, 0.303, 0.311, 0.318, 0.323, 0.329, 0.334, 0.337, 0.341, 0.344, 0.348, 0.351, 0.354])
SPECIFIC_HEAT_J_PER_KG_K = np.array([
    132.29, 135.43, 137.99, 140.37, 142.72, 145.07, 147.46, 149.88, 152.34, 154.83, 157.36, 159.90, 162.47, 165.04, 167.61,
    170.18, 172.73, 175.62, 178.27, 180.61, 182.95, 185.58, 188.78, 192.82, 197.95, 204.45, 212.56, 222.54, 234.62, 249.07,
    266.12, 286.02, 309.01, 335.32])

RESISTANCE_RATIO = RESISTIVITY_UOHM_CM / RESISTIVITY_UOHM_CM[0]
HEAT_RATIO = SPECIFIC_HEAT_J_PER_KG_K / SPECIFIC_HEAT_J_PER_KG_K[0]
RADIATED_W_PER_M2 = EMISSIVITY * STEFAN_BOLTZMANN_W_PER_M2_K4 * TEMPERATURE_K**4


def at(column, temperature_k):
    """Value of a column, linear between its rows."""
    return np.interp(temperature_k, TEMPERATURE_K, column)


def spice_table(column, variable):
    """The column as a table function of `variable`, for a behavioural source."""
    points = ", ".join(f"{t:.0f}, {y:.7g}" for t, y in zip(TEMPERATURE_K, column))
    return f"pwl({variable}, {points})"


DENSITY_KG_PER_M3 = 19250.0  # NIST-JANAF


def wire_mass_kg(hot_resistance_ohm, temperature_k, radiating_area_m2, shadowed=0.3):
    """Mass of the wire that has this resistance and this radiating area. A coil hides part of its own surface (about a
    third; common practice, no source)."""
    surface = radiating_area_m2 / (1 - shadowed)
    resistivity = at(RESISTIVITY_UOHM_CM, temperature_k) * 1e-8
    diameter = (4 * resistivity * surface / (np.pi**2 * hot_resistance_ohm))**(1 / 3)
    return float(DENSITY_KG_PER_M3 * surface * diameter / 4)
