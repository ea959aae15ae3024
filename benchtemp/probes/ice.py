"""Melting ice as a reference: 0 °C by the old definition, a little less sure in a kitchen.

Sources: 0 °C = 273.15 K (ITS-90, where the triple point of water is 0.01 °C); cryoscopic constant 1.86 K
kg/mol (from memory; follows from the enthalpy of fusion in IAPWS R10-06). Bounds are our estimates.
"""

from __future__ import annotations

from benchtemp.errors import BadInput
from benchtemp.probes.boiling import SALT_G_PER_MOL
from benchtemp.probes.reference import Reference, ReferenceKind
from benchtemp.probes.uncertainty import bounded

CAUTIONS = ("Keep mains leads, plugs and the computer away from the water.",)
HOW_TO = (
    "Fill a vacuum flask with finely crushed ice and just enough cold water to close the gaps.",
    "Stir, wait a few minutes, and hold the tip in the middle: water at the bottom may be at 4 °C.",
    "Drain and refill ice as it melts; use ice and water without much salt.",
)
CRYOSCOPIC_K_KG_PER_MOL = 1.86
GRADIENT_HALF_WIDTH_K = 0.05
"""How far the water at the tip may be from the melting ice around it, ice packed and stirred (estimate)."""


def ice_reference(
    *, dissolved_g_per_l: float = 0.0, gradient_half_width_k: float = GRADIENT_HALF_WIDTH_K
) -> Reference:
    """Return the temperature of a bath of melting ice, with its uncertainty and the working.

    Args:
        dissolved_g_per_l: Dissolved solids of the water between the ice, g/L, taken as common salt.
        gradient_half_width_k: How far the tip may be from the ice's temperature, K.

    Raises:
        BadInput: An amount below 0.
    """
    if not dissolved_g_per_l >= 0.0:
        raise BadInput(f"An amount of dissolved solids of {dissolved_g_per_l:g} cannot be; give 0 or more.")
    lowered_k = CRYOSCOPIC_K_KG_PER_MOL * 2.0 * dissolved_g_per_l / 0.99984 / SALT_G_PER_MOL
    working = ["ice point 0.000 °C (air-saturated water; air-free ice would melt at +0.0025 °C)"]
    contributions = [
        bounded(
            "gradients", gradient_half_width_k, estimate=True, note="packed and stirred, tip in the middle"
        ),
        bounded("dissolved air", 0.0025, note="between air-free and air-saturated water"),
    ]
    conditions: dict[str, str] = {}
    if dissolved_g_per_l > 0.0:
        conditions["dissolved solids"] = f"{dissolved_g_per_l:g} g/L"
        working.append(
            f"dissolved solids as common salt 1.86 K kg/mol × 2 × {dissolved_g_per_l / 0.99984:.3f} g/kg / "
            f"58.443 g/mol = −{lowered_k:.4f} K"
        )
        contributions.append(
            bounded(
                "dissolved solids",
                lowered_k,
                estimate=True,
                note="freezing leaves salts in the water; which ones is not known",
            )
        )
    working.append(f"reference temperature {-lowered_k if lowered_k else 0.0:.3f} °C".replace("-", "−"))
    return Reference(
        kind=ReferenceKind.ICE,
        temp_degc=-lowered_k if lowered_k else 0.0,
        contributions=tuple(contributions),
        conditions=conditions,
        working=tuple(working),
        notes=(
            "Ice made from tap water melts about 0.03 °C low at 0.5 g/L of salts; distilled water is surer.",
        ),
    )
