"""What the controller knows of the bowl's content: heat it takes, and where it melts.

Responsible for the controller's own picture of chocolate, from the literature; not for what is
really in the bowl, which the estimator corrects.
"""

from msgspec import Struct

from controller.core.profile import Kind

WATER_J_PER_KG_K = 4180.0  # IAPWS: 4184 at 20 °C, 4181 at 50 °C
# Beckett, 4th ed., pp. 667-668: 1590 to 1670; samples of the trade reach 2000 (the control study).
CHOCOLATE_J_PER_KG_K = 1750.0
LATENT_J_PER_KG = 45_000.0  # Chevalley 1970, in Beckett, p. 668: dark 46, milk 44 kJ/kg
# Solid fat of cocoa butter at °C, as a share of what is solid at 20 °C. Solid fat contents as the
# trade quotes them (76, 70, 45 and 1 % at 20, 25, 30 and 35 °C; from memory, not checked).
SOLID_AT = ((20.0, 1.0), (25.0, 0.92), (30.0, 0.59), (35.0, 0.013), (36.5, 0.0))
MELT_LAG_S = 90.0  # own engineering value, not published: the study has about 40 s
# Cocoa butter's form V melts at 33.8 °C: Wille & Lutton, J. Am. Oil Chem. Soc. 43:491 (1966).
# Handbooks round it to 34; we keep to the figure, for seed at 34 °C is already melting.
FORM_V_MELTS_C = 33.8
# Milk fat softens cocoa butter; own engineering values, not published.
SOFTER_K = {Kind.DARK: 0.0, Kind.MILK: 1.5, Kind.WHITE: 2.5, Kind.COMPOUND: 0.0, Kind.WATER: 0.0}


class Content(Struct, frozen=True, kw_only=True):
    """What is in the bowl, per kilogram."""

    j_per_kg_k: float
    latent_k: float  # latent heat of all its solids, as kelvins of its own specific heat
    softer_k: float  # melts so much lower than dark chocolate


def form_v_melts_c(kind: Kind) -> float:
    """Where form V melts in chocolate of that kind, °C."""
    return FORM_V_MELTS_C - SOFTER_K[kind]


def content_of(kind: Kind) -> Content:
    """The content that a profile names."""
    if kind is Kind.WATER:
        return Content(j_per_kg_k=WATER_J_PER_KG_K, latent_k=0.0, softer_k=0.0)
    return Content(
        j_per_kg_k=CHOCOLATE_J_PER_KG_K,
        latent_k=LATENT_J_PER_KG / CHOCOLATE_J_PER_KG_K,
        softer_k=SOFTER_K[kind],
    )


def solid_share(content: Content, temp_c: float) -> tuple[float, float]:
    """Share still solid at rest at a temperature, and its slope per kelvin (0 or negative)."""
    at_c = temp_c + content.softer_k
    low_c, low = SOLID_AT[0]
    if at_c <= low_c:
        return low, 0.0
    for high_c, high in SOLID_AT[1:]:
        if at_c < high_c:
            slope = (high - low) / (high_c - low_c)
            return low + slope * (at_c - low_c), slope
        low_c, low = high_c, high
    return 0.0, 0.0
