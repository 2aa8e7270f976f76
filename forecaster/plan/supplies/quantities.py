"""What to buy for a bed: bark and compost, fertilizer, water. SI throughout."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from forecaster.ground.errors import InputError
from forecaster.packaged import load_csv
from forecaster.plan.values import check_not_negative, check_positive, default, whole_up


@dataclass(frozen=True, slots=True)
class Material:
    """A bulk material.

    Parameters
    ----------
    name : str
    parts : float
        Its share in the usual mix, by volume.
    density_kg_m3 : tuple of float
        Low, usual and high (wet), as delivered.
    basis, source : str
        How well the density is known.
    """

    name: str
    parts: float
    density_kg_m3: tuple[float, float, float]
    basis: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Heap:
    """How much of one material to buy.

    Parameters
    ----------
    material : Material
    volume_m3 : float
    bags : int
        Bags of `bag_m3`, whole ones.
    bag_m3 : float
    mass_kg : tuple of float
        Low, usual and high.
    loads : int
        Loads that keep both the volume and, with wet material, the weight that the vehicle
        may carry.
    loads_by_volume, loads_by_weight : float
        The same, unrounded: by volume alone, and by the high weight alone.
    """

    material: Material
    volume_m3: float
    bags: int
    bag_m3: float
    mass_kg: tuple[float, float, float]
    loads: int
    loads_by_volume: float
    loads_by_weight: float


@dataclass(frozen=True, slots=True)
class Feed:
    """How much of a fertilizer gives the nitrogen wanted.

    Parameters
    ----------
    mass_kg : float
    nitrogen_share : float
        Of the product, by weight, from its label.
    nitrogen_kg_m2 : float
        The target.
    """

    mass_kg: float
    nitrogen_share: float
    nitrogen_kg_m2: float


@dataclass(frozen=True, slots=True)
class Watering:
    """Water for a bed.

    Parameters
    ----------
    depth_m, volume_m3 : float
    minutes : float or None
        At the flow given.
    """

    depth_m: float
    volume_m3: float
    minutes: float | None


@cache
def materials() -> dict[str, Material]:
    """Return the packaged bulk materials by name."""
    return {
        row["material"]: Material(
            row["label"],
            float(row["parts"]),
            (
                float(row["density_low_kg_m3"]),
                float(row["density_kg_m3"]),
                float(row["density_high_kg_m3"]),
            ),
            row["basis"],
            row["source"],
        )
        for row in load_csv("materials.csv")
    }


def heap(
    material: Material,
    volume_m3: float,
    *,
    bag_m3: float,
    load_volume_m3: float,
    load_mass_kg: float,
) -> Heap:
    """Return a volume of a material as bags, weight and loads."""
    check_not_negative(volume_m3=volume_m3)
    check_positive(bag_m3=bag_m3, load_volume_m3=load_volume_m3, load_mass_kg=load_mass_kg)
    low, usual, high = material.density_kg_m3
    by_volume, by_weight = volume_m3 / load_volume_m3, volume_m3 * high / load_mass_kg
    return Heap(
        material=material,
        volume_m3=volume_m3,
        bags=whole_up(volume_m3 / bag_m3),
        bag_m3=bag_m3,
        mass_kg=(volume_m3 * low, volume_m3 * usual, volume_m3 * high),
        loads=whole_up(max(by_volume, by_weight)),
        loads_by_volume=by_volume,
        loads_by_weight=by_weight,
    )


def heaped(heaps: Sequence[Heap]) -> tuple[Heap, ...]:
    """Return heaps with those of one material, and one size of bag, added up."""
    same: dict[tuple[str, float], list[Heap]] = {}
    for one in heaps:
        same.setdefault((one.material.name, one.bag_m3), []).append(one)
    return tuple(_added(group) for group in same.values())


def _added(heaps: Sequence[Heap]) -> Heap:
    first, volume = heaps[0], sum(h.volume_m3 for h in heaps)
    low, usual, high = (v * volume for v in first.material.density_kg_m3)
    return Heap(
        material=first.material,
        volume_m3=volume,
        bags=whole_up(volume / first.bag_m3),
        bag_m3=first.bag_m3,
        mass_kg=(low, usual, high),
        loads=loads_together(heaps),
        loads_by_volume=sum(h.loads_by_volume for h in heaps),
        loads_by_weight=sum(h.loads_by_weight for h in heaps),
    )


def loads_together(heaps: Sequence[Heap]) -> int:
    """Return the loads that carry several heaps, by volume and by wet weight."""
    by_volume, by_weight = (
        sum(h.loads_by_volume for h in heaps),
        sum(h.loads_by_weight for h in heaps),
    )
    return whole_up(max(by_volume, by_weight))


def renewal(
    area_m2: float,
    depth_m: float | None = None,
    *,
    parts: Sequence[float] | None = None,
    bags_m3: Sequence[float] | None = None,
    load_volume_m3: float | None = None,
    load_mass_kg: float | None = None,
) -> tuple[Heap, Heap]:
    """Return the bark fines and compost that renew a bed.

    Two parts of bark fines to one of compost, once a year at the autumn change, is common
    practice. Volume = area · depth · part/parts, as the material lies loose; it settles.

    Parameters
    ----------
    area_m2 : float
    depth_m : float, optional
        Of the mix; 3 in if not given.
    parts : (bark, compost), optional
        By volume.
    bags_m3 : (bark, compost), optional
        Size of a bag of each.
    load_volume_m3, load_mass_kg : float, optional
        What the vehicle holds and what it may carry.

    Raises
    ------
    InputError
        If a number is not above zero.
    """
    kinds = (materials()["bark fines"], materials()["compost"])
    shares = [kind.parts for kind in kinds] if parts is None else list(parts)
    bags = [default("bag_bark_m3"), default("bag_compost_m3")] if bags_m3 is None else list(bags_m3)
    if len(shares) != 2 or len(bags) != 2 or sum(shares) <= 0.0:
        raise InputError(f"parts {parts!r}, bags {bags_m3!r}; expected two numbers each, 2 and 1")
    depth = default("renewal_depth_m") if depth_m is None else depth_m
    check_positive(area_m2=area_m2, depth_m=depth)
    check_not_negative(parts_of_bark=shares[0], parts_of_compost=shares[1])
    volume = default("load_volume_m3") if load_volume_m3 is None else load_volume_m3
    mass = default("load_mass_kg") if load_mass_kg is None else load_mass_kg
    heaps = [
        heap(
            kind,
            area_m2 * depth * share / sum(shares),
            bag_m3=bag,
            load_volume_m3=volume,
            load_mass_kg=mass,
        )
        for kind, share, bag in zip(kinds, shares, bags, strict=True)
    ]
    return heaps[0], heaps[1]


def chips(
    area_m2: float,
    depth_m: float | None = None,
    *,
    load_volume_m3: float | None = None,
    load_mass_kg: float | None = None,
) -> Heap:
    """Return the wood chips that cover a bed left to rest; 4 in if no depth is given."""
    depth = default("chips_depth_m") if depth_m is None else depth_m
    check_positive(area_m2=area_m2, depth_m=depth)
    return heap(
        materials()["wood chips"],
        area_m2 * depth,
        bag_m3=default("bag_bark_m3"),
        load_volume_m3=default("load_volume_m3") if load_volume_m3 is None else load_volume_m3,
        load_mass_kg=default("load_mass_kg") if load_mass_kg is None else load_mass_kg,
    )


def nitrogen_share(label: str) -> float:
    """Return the nitrogen of a fertilizer as a share of its weight, from its label's analysis.

    Parameters
    ----------
    label : str
        ``12-0-0``, the percentages of nitrogen, phosphate and potash, or a name in
        ``data/fertilizers.csv``.

    >>> nitrogen_share("12-0-0"), nitrogen_share("cottonseed meal")
    (0.12, 0.06)
    """
    known = {row["name"]: float(row["nitrogen_share"]) for row in load_csv("fertilizers.csv")}
    if label.strip().lower() in known:
        return known[label.strip().lower()]
    match = re.fullmatch(r"\s*(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)-(\d+(?:\.\d+)?)\s*", label)
    numbers = [float(part) for part in match.groups()] if match else []
    if not numbers or sum(numbers) > 100.0:
        raise InputError(
            f"fertilizer {label!r} not understood; expected its label's analysis, as 12-0-0, "
            f"or one of {', '.join(sorted(known))}"
        )
    if numbers[0] <= 0.0:
        raise InputError(f"fertilizer {label!r} holds no nitrogen; expected a first number above 0")
    return numbers[0] / 100.0


def feed(area_m2: float, share: float, nitrogen_kg_m2: float | None = None) -> Feed:
    """Return the fertilizer for a bed: area · target / nitrogen share. The label rules.

    Raises
    ------
    InputError
        If the share lies outside 0 to 1 or another number is not above zero.
    """
    target = default("nitrogen_kg_m2") if nitrogen_kg_m2 is None else nitrogen_kg_m2
    check_positive(area_m2=area_m2, nitrogen_share=share, nitrogen_kg_m2=target)
    if share > 1.0:
        raise InputError(f"nitrogen_share is {share!r}; expected a share from 0 to 1, as 0.12")
    return Feed(area_m2 * target / share, share, target)


def water(area_m2: float, depth_m: float | None = None, flow_m3_s: float | None = None) -> Watering:
    """Return the water of a depth over a bed, and the minutes it runs at a flow."""
    depth = default("water_in_m") if depth_m is None else depth_m
    check_positive(area_m2=area_m2, depth_m=depth)
    if flow_m3_s is not None:
        check_positive(flow_m3_s=flow_m3_s)
    volume = area_m2 * depth
    return Watering(depth, volume, None if flow_m3_s is None else volume / flow_m3_s / 60.0)
