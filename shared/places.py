"""Where parts of a machine lie against its frame board, as one marked clip tells it.

A picture tells on which line of sight a part lies, not how far along it: a part that lies before the sheet
or behind it is seen beside another spot of the sheet as the phone moves. So the line is what is kept; two
of them from two places of the phone meet at the part.
"""

from __future__ import annotations

from typing import Annotated, Literal, get_args

from pydantic import BaseModel, ConfigDict, Field

StillPart = Literal["pivot", "pad", "pad_end", "seat"]
#: Marks on parts that keep their place on the frame as long as nobody moves a setting.
STILL_PARTS: tuple[StillPart, ...] = get_args(StillPart)

#: Beyond these no part lies, and no line runs beside a board that can be seen.
FARTHEST_CM, STEEPEST = 10_000.0, 1_000.0
Length = Annotated[float, Field(ge=-FARTHEST_CM, le=FARTHEST_CM)]
Slope = Annotated[float, Field(ge=-STEEPEST, le=STEEPEST)]


class Sight(BaseModel):
    """The line of sight on which a part lies.

    right_cm, down_cm: where it meets the sheet, from the board's middle; right_per_cm, down_per_cm: how it
    goes on for each cm nearer to the phone; half_cm, half_per_cm: half-widths of the 90 % intervals of both,
    how well a person points left out.
    """

    model_config = ConfigDict(extra="ignore", frozen=True)

    name: StillPart
    right_cm: Length
    down_cm: Length
    right_per_cm: Slope
    down_per_cm: Slope
    half_cm: float = Field(ge=0, le=FARTHEST_CM)
    half_per_cm: float = Field(ge=0, le=STEEPEST)
