"""Lengths of pipe and their elbows, and the checks of figures that all parts share."""

from dataclasses import dataclass
from math import isfinite

from .errors import require
from .fittings import AngleRule, elbow
from .friction import MATERIALS


def check_diameter(value: float, element: str = "") -> None:
    """Refuse an impossible diameter (m)."""
    require(
        isfinite(value) and 0.01 <= value <= 3.0,
        "diameter_range",
        f"A diameter must be between 0.01 and 3 m, not {value:g}",
        element=element,
    )


def check_not_negative(value: float, what: str, code: str, element: str = "") -> None:
    """Refuse a figure below 0."""
    require(
        isfinite(value) and value >= 0.0,
        code,
        f"{what} must not be negative, not {value:g}",
        element=element,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Elbow:
    """One or more equal elbows.

    `angle` in degrees, `radius_ratio` centerline radius over diameter. `k` replaces
    the table's coefficient (each elbow, on the duct's velocity pressure).
    """

    angle: float = 90.0
    radius_ratio: float = 1.5
    construction: str = "stamped"
    count: int = 1
    k: float | None = None

    def __post_init__(self) -> None:
        """Refuse an elbow that no table knows."""
        require(
            0 <= self.count <= 50,
            "elbow_count",
            f"There cannot be {self.count} elbows in a row",
        )
        require(
            isfinite(self.radius_ratio) and 0.2 <= self.radius_ratio <= 20.0,
            "elbow_radius",
            f"A bend radius of {self.radius_ratio:g} diameters makes no sense",
        )
        if self.k is None:
            self.coefficient(0.15)
        else:
            check_not_negative(
                self.k, "The coefficient of an elbow", "coefficient_range"
            )

    @property
    def mitered(self) -> bool:
        """Whether the coefficient depends on the Reynolds number."""
        return self.construction == "mitered" and self.k is None

    def coefficient(self, diameter: float, rule: AngleRule = "smacna") -> float:
        """Return the sum of the coefficients of all of them."""
        if self.k is not None:
            return self.count * self.k
        return self.count * elbow(
            self.construction,
            angle=self.angle,
            radius_ratio=self.radius_ratio,
            diameter=diameter,
            rule=rule,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Pipe:
    """A length of one diameter: rigid drop, hose, or the body of a duct.

    `diameter`, `length` and `roughness` in m; `extra_k` is any other loss on its
    velocity pressure. `friction_scale` multiplies the friction, as for a hose that is
    not stretched. `vertical`: the material has to rise in it.
    """

    diameter: float
    length: float = 0.0
    roughness: float = MATERIALS["galvanized"].roughness
    elbows: tuple[Elbow, ...] = ()
    extra_k: float = 0.0
    friction_scale: float = 1.0
    vertical: bool = False

    def __post_init__(self) -> None:
        """Refuse impossible sizes."""
        check_pipe(self.diameter, self.length, self.roughness, self.extra_k)
        check_scale(self.friction_scale)


def check_scale(scale: float, element: str = "") -> None:
    """Refuse an impossible factor on a loss."""
    require(
        isfinite(scale) and 0.1 <= scale <= 20.0,
        "scale_range",
        f"A loss may be scaled by 0.1 to 20, not by {scale:g}",
        element=element,
    )


def check_pipe(
    diameter: float, length: float, roughness: float, extra_k: float, element: str = ""
) -> None:
    """Refuse impossible sizes of a pipe (m)."""
    check_diameter(diameter, element)
    check_not_negative(length, "A length", "length_range", element)
    require(
        length <= 1000.0,
        "length_range",
        f"A duct of {length:g} m is longer than any shop",
        element=element,
    )
    require(
        isfinite(roughness) and 0.0 <= roughness <= 0.1 * diameter,
        "roughness_range",
        "The roughness must be between 0 and a tenth of the diameter, "
        f"not {roughness:g} m",
        element=element,
    )
    check_not_negative(extra_k, "A loss coefficient", "coefficient_range", element)
