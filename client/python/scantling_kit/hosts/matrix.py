"""The few operations on 4x4 matrices that hosts need: 16 numbers, column-major, for column vectors, as glTF's
are."""

import math
from typing import Sequence, Tuple

Matrix = Tuple[float, ...]

IDENTITY: Matrix = (1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 0.0, 1.0)


def multiply(a: Sequence[float], b: Sequence[float]) -> Matrix:
    """a b, both with a last row of 0 0 0 1. Sums go left to right, as client/import/matrix.cc forms them."""
    product = []
    for column in range(0, 16, 4):
        for row in range(3):
            product.append(a[row] * b[column] + a[4 + row] * b[column + 1] + a[8 + row] * b[column + 2] +
                           (a[12 + row] if column == 12 else 0.0))
        product.append(1.0 if column == 12 else 0.0)
    return tuple(product)


def from_parts(translation: Sequence[float], rotation: Sequence[float], scale: Sequence[float]) -> Matrix:
    """translation * rotation * scale; rotation: a quaternion x, y, z, w, brought to length 1. ValueError
    where it has none. Source: glTF 2.0 Specification, section 3.5.3."""
    length = math.sqrt(sum(part * part for part in rotation))
    if not 0 < length < math.inf:
        raise ValueError(f"got the rotation {list(rotation)}, want a quaternion of length 1")
    x, y, z, w = (part / length for part in rotation)
    columns = ((1 - 2 * (y * y + z * z), 2 * (x * y + z * w), 2 * (x * z - y * w)),
               (2 * (x * y - z * w), 1 - 2 * (x * x + z * z), 2 * (y * z + x * w)),
               (2 * (x * z + y * w), 2 * (y * z - x * w), 1 - 2 * (x * x + y * y)))
    return (*(part * scale[0] for part in columns[0]), 0.0, *(part * scale[1] for part in columns[1]), 0.0,
            *(part * scale[2] for part in columns[2]), 0.0, *translation, 1.0)


def moved(m: Sequence[float], x: float, y: float, z: float) -> Matrix:
    """The same, moved along the world's axes."""
    return (*m[:12], m[12] + x, m[13] + y, m[14] + z, m[15])


def is_flat(m: Sequence[float]) -> bool:
    """Whether the upper left 3x3 flattens space, by the same test as client/import/matrix.h."""
    columns = [m[0:3], m[4:7], m[8:11]]
    lengths = [math.hypot(*column) for column in columns]
    if not all(lengths):
        return True
    a, b, c = ([part / length for part in column] for column, length in zip(columns, lengths))
    volume = (a[0] * (b[1] * c[2] - c[1] * b[2]) - a[1] * (b[0] * c[2] - c[0] * b[2]) +
              a[2] * (b[0] * c[1] - c[0] * b[1]))
    return abs(volume) < 1e-9
