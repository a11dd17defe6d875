"""Whether a measured joint angle can be true at all: beyond what a joint can do, the landmarks are wrong.

Largest flexion is that of Soucie 2011 (women of 20 to 44, the most mobile group: knee 141.9, elbow
150.0; from memory) plus 15 for the mobile individual, above the AAOS columns in Norkin and White
(elbow 150; knee 135, from memory). Past straight the table allows 15: the Beighton sign of lax
joints begins at 10 (from memory). The 15 on either side are an allowance of ours, no published
source.
"""

from __future__ import annotations

REASON_CODE = "implausible"
#: Smallest and largest included angle (180 = straight) by joint. The hip has none: the trunk bends
#: as well, and shoulder, hip and knee can come to lie close together.
JOINT_RANGE_DEG: dict[str, tuple[float, float]] = {
    "knee": (180.0 - 157.0, 195.0),
    "elbow": (180.0 - 165.0, 195.0),
}


def implausible(joint: str | None, value_deg: float, half_width_deg: float) -> str | None:
    """Why a joint cannot have had that included angle; None when it can.

    Only a value whose whole 90 % interval (half_width_deg either way) lies beyond the joint's range
    is refused. A joint without a range, or an unknown value, never is.
    """
    if joint not in JOINT_RANGE_DEG:
        return None
    low, high = JOINT_RANGE_DEG[joint]
    if not (value_deg - half_width_deg > high or value_deg + half_width_deg < low):
        return None
    return (
        f"the {joint} read {value_deg:.0f} degrees, which no {joint} can do: it was seen in the wrong place"
    )
