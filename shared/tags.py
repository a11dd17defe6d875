"""Printed tags for a machine: which marker stands for what, how large it is, and how it looks.

The markers are those of OpenCV's dictionary of 4x4 cells with 100 members (``DICT_4X4_100``), of which each
differs from every other one, however turned, in 3 of its 16 cells at least: one misread cell is put right.
A machine has eight in a row by its number: the stack's, the lever's, and the six of the frame board, a
ChArUco board that fills a sheet of A4.
"""

from __future__ import annotations

from typing import Literal, get_args

TagPlace = Literal["stack", "lever", "board"]
TAG_PLACES: tuple[TagPlace, ...] = get_args(TagPlace)
#: Side of a tag's black square.
SIDE_CM: dict[TagPlace, float] = {"stack": 6.0, "lever": 5.0, "board": 4.8}
#: Squares of the board, side by side and one below the other, and their side.
BOARD_COLUMNS, BOARD_ROWS = 3, 4
SQUARE_CM = 6.2
PER_MACHINE = 8
MACHINES = 12
#: Members' cards have markers of another dictionary, of 5x5 cells, and are numbered from 1 to this.
CARDS = 250
#: White that a tag needs about its black square, as a share of its side.
QUIET_SHARE = 0.17
#: The inner cells of each marker from the top left, row by row, 16 bits, 1 is white.
_CODES = """
b532 0f9a 332d 9946 549e 79cd 9e2e c4f2 feda cf56 f991 11a7 0eb7 2a0f 24b1 263e
4665 6600 6c5e 76af 868b b02b ccd5 dd82 fe47 9471 ace4 a554 2123 346f 4415 57b2
9ecf f0cb 08ae 0929 1875 04ff 0df6 1c5a 1718 2a28 328c 38b2 24e8 2eeb 2d3f 4b64
502e 5013 5194 5568 5d41 5f97 6801 6867 6124 61e9 6b12 6fe5 67df 7e1b 80a0 8344
8ba2 937a 846c 852a 859c 9c89 9fa1 bb7c bc04 b65b bfc8 b7ab ca1f c962 d958 d3d5
cc98 c7a0 c537 e95d f925 fbbb ee2a f74d 3575 8aad 7617 0acf 064b 2dc1 49d8 43f4
"""


def tag_id(machine: int, place: TagPlace, index: int = 0) -> int:
    """The marker's number in the dictionary; index: which of the board's, row by row."""
    return PER_MACHINE * (machine - 1) + TAG_PLACES.index(place) + index


def tag_meaning(marker: int) -> tuple[int, TagPlace, int]:
    """Machine, place and index of a marker's number, the other way round."""
    machine, at = divmod(marker, PER_MACHINE)
    place = TAG_PLACES[min(at, 2)]
    return machine + 1, place, at - TAG_PLACES.index(place)


def board_ids(machine: int) -> list[int]:
    """The board's markers in its order: row by row, left to right."""
    return [tag_id(machine, "board", index) for index in range(BOARD_COLUMNS * BOARD_ROWS // 2)]


def black_cells(marker: int) -> list[tuple[int, int]]:
    """Row and column, 0 to 5, of a marker's black cells, its border among them."""
    code = int(_CODES.split()[marker], 16)

    def white(row: int, column: int) -> bool:
        inside = 1 <= row <= 4 and 1 <= column <= 4
        return inside and bool(code >> (15 - 4 * (row - 1) - (column - 1)) & 1)

    return [(row, column) for row in range(6) for column in range(6) if not white(row, column)]


def board_squares() -> list[tuple[int, int, int | None]]:
    """Row, column and marker's index of every square of the board; None: a black square."""
    places = [(row, column) for row in range(BOARD_ROWS) for column in range(BOARD_COLUMNS)]
    marked = [place for place in places if sum(place) % 2]
    return [(*place, marked.index(place) if place in marked else None) for place in places]
