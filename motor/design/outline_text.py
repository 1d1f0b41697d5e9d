"""Motors drawn as outlines in the design file: read, and written back.

::

    [geometry]
    kind = "outlines"
    pole_diameter = "31 mm"                       # dimensions of your own, for studies to change
    tip_angle = { value = "60 deg", doc = "slope of the tip" }
    rim = { value = "8 mm", from = ["pole", "face"], to = ["pole", "face + rim"] }   # in drawings

    [geometry.formulas]                           # in mm and degrees, each from those above it
    pole = "pole_diameter / 2"

    [geometry.gap]
    inner_radius = "pole"

    [[geometry.further_gaps]]                     # where there are more, same keys

    [geometry.roles]                              # what rules of studies may change, if any
    outer = ["rim"]
    height = "magnet_thickness"
    follows = { magnet_bore = "pole_diameter" }
    flux_plates = ["back_thickness"]
    gap = ["pole_diameter", "gap_width"]          # diameter inside, radial width

    [[geometry.parts]]
    name = "yoke"
    role = "steel"                                # or "magnet", "conductor"
    outline = [                                   # [r, z], numbers or formulas
        ["pole", "face"],
        { at = ["rim", "face"], round = 2 },      # or chamfer = 1, or through = [r, z]: an arc
    ]
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from geometries import Corner, Dimension, DrawnPart, InvalidInput, Outlines, Ring, Role, Roles
from geometries.drawn import GapFormulas
from geometries.formulas import Formula
from motor.base.media import toml_text
from motor.base.toml_records import check_keys, string, table_of
from motor.base.units import format_quantity, parse_quantity
from motor.design.file_lines import Line, Section, note

__all__ = ["materials_of_parts", "outline_sections", "read_outlines"]

GAP = ("inner_radius", "outer_radius", "bottom", "top")
SECTIONS = ("formulas", "gap", "further_gaps", "roles", "parts")
ROLES = ("outer", "height", "follows", "flux_plates", "gap")
CHANGES = ("scale_r", "offset", "move")
PART = ("name", "role", "magnetisation", "material", "outline", *CHANGES)
WHERE = "geometry.parts"


def read_outlines(table: Mapping[str, Any], rings: tuple[Ring, ...]) -> Outlines:
    """Return the motor that a section [geometry] draws, without the keys kind and rings."""
    formulas = table_of(table.get("formulas", {}), "geometry.formulas")
    gap = _gap(table.get("gap", {}), "geometry.gap")
    more = table.get("further_gaps", [])
    if not isinstance(more, list):
        raise InvalidInput("further_gaps", "be a list [[geometry.further_gaps]]", repr(more))
    further = tuple(_gap(one, "geometry.further_gaps") for one in more)
    try:
        return Outlines(
            dimensions=tuple(_dimension(k, v) for k, v in table.items() if k not in SECTIONS),
            formulas=tuple((k, _formula(v, k, "geometry.formulas")) for k, v in formulas.items()),
            gap_formulas=gap,
            further_gaps=further,
            parts=tuple(_part(row) for row in _rows(table)),
            declared=_roles(table_of(table.get("roles", {}), "geometry.roles")),
            rings=rings,
        )
    except InvalidInput as error:
        raise error.within("geometry") from None


def _gap(value: object, where: str) -> GapFormulas:
    gap = table_of(value, where)
    check_keys(where, gap, GAP)
    for key in GAP:
        if key not in gap:
            raise InvalidInput(key, "be given (a formula, mm)", "nothing", where)
    inner, outer, bottom, top = (_formula(gap[key], key, where) for key in GAP)
    return inner, outer, bottom, top


def _roles(table: Mapping[str, Any]) -> Roles:
    where = "geometry.roles"
    check_keys(where, table, ROLES)

    def names(key: str) -> tuple[str, ...]:
        value = table.get(key, [])
        if not isinstance(value, list):
            raise InvalidInput(key, "be a list of dimensions", repr(value)[:80], where)
        return tuple(string(name, key, where) for name in value)

    follows = table_of(table.get("follows", {}), f"{where}.follows")
    return Roles(
        outer=names("outer"),
        height=string(table.get("height", ""), "height", where),
        follows={
            name: string(leader, name, f"{where}.follows") for name, leader in follows.items()
        },
        flux_plates=names("flux_plates"),
        gap=names("gap"),
    )


def _role_lines(roles: Roles) -> list[Line]:
    def listed(names: tuple[str, ...]) -> str:
        return f"[{', '.join(map(toml_text, names))}]" if names else ""

    follows = ", ".join(f"{name} = {toml_text(leader)}" for name, leader in roles.follows.items())
    values = {
        "outer": listed(roles.outer),
        "height": toml_text(roles.height) if roles.height else "",
        "follows": f"{{ {follows} }}" if follows else "",
        "flux_plates": listed(roles.flux_plates),
        "gap": listed(roles.gap),
    }
    return [Line(key, value) for key, value in values.items() if value]


def materials_of_parts(table: Mapping[str, Any]) -> dict[str, str]:
    """Return the material of each magnet or steel part that names one."""
    return {
        string(row.get("name"), "name", WHERE): string(row["material"], "material", WHERE)
        for row in _rows(table)
        if "material" in row and row.get("role") != Role.CONDUCTOR
    }


def _rows(table: Mapping[str, Any]) -> list[dict[str, Any]]:
    rows = table.get("parts", [])
    if not isinstance(rows, list) or not rows:
        raise InvalidInput("parts", "be a list [[geometry.parts]]", repr(rows), "geometry")
    return [table_of(row, WHERE) for row in rows]


def _dimension(name: str, value: object) -> Dimension:
    doc, ends = "", None
    if isinstance(value, dict):
        check_keys(f"geometry.{name}", value, ["value", "doc", "from", "to"])
        if "from" in value or "to" in value:
            ends = (_place(value.get("from"), name), _place(value.get("to"), name))
        doc = string(value.get("doc", ""), "doc", f"geometry.{name}")
        value = value.get("value")
    if isinstance(value, int | float) and not isinstance(value, bool):
        return Dimension(name, float(value), "number", doc, ends)
    if not isinstance(value, str):
        what = 'be a dimension such as "8 mm" or "30 deg", or a plain number'
        raise InvalidInput(name, what, repr(value)[:200], "geometry")
    kind = "angle" if value.strip().endswith(("deg", "rad", "degree", "degrees")) else "length"
    return Dimension(name, parse_quantity(value, kind, name), kind, doc, ends)


def _formula(value: object, field: str, where: str) -> Formula:
    if isinstance(value, str):
        return value
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise InvalidInput(field, "be a number or a formula in quotes", repr(value)[:200], where)
    try:
        return float(value)
    except OverflowError:
        raise InvalidInput(field, "be a finite number", "a larger one", where) from None


def _part(row: dict[str, Any]) -> DrawnPart:
    check_keys(WHERE, row, PART)
    for key in ("name", "role", "outline"):
        if key not in row:
            raise InvalidInput(key, "be given", "nothing", WHERE)
    name, role = string(row["name"], "name", WHERE), string(row["role"], "role", WHERE)
    if role not in tuple(Role):
        raise InvalidInput(f"role of {name}", f"be one of {', '.join(Role)}", repr(role), WHERE)
    points = row["outline"]
    if not isinstance(points, list) or len(points) < 2:
        raise InvalidInput(f"outline of {name}", "be a list of points [r, z]", repr(points)[:80])
    magnetisation = row.get("magnetisation", "")
    if isinstance(magnetisation, int | float):
        magnetisation = repr(float(magnetisation))
    return DrawnPart(
        name,
        Role(role),
        tuple(_corner(p, f"{name}, point {k}") for k, p in enumerate(points, start=1)),
        string(magnetisation, f"magnetisation of {name}", WHERE),
        string(row.get("material", ""), "material", WHERE) if role == Role.CONDUCTOR else "",
        _formula(row.get("scale_r", 1.0), f"{name}, scale_r", WHERE),
        _formula(row.get("offset", 0.0), f"{name}, offset", WHERE),
        _place(row.get("move", [0.0, 0.0]), f"{name}, move"),
    )


def _corner(value: object, field: str) -> Corner:
    if not isinstance(value, dict):
        return Corner(_place(value, field))
    check_keys(field, value, ["at", "through", "round", "chamfer"])
    through = value.get("through")
    if through is not None and ("round" in value or "chamfer" in value):
        raise InvalidInput(field, "end an arc or be cut, not both", "through beside a cut", WHERE)
    return Corner(
        _place(value.get("at"), field),
        None if through is None else _place(through, f"{field}, through"),
        _formula(value.get("round", 0.0), f"{field}, round", WHERE),
        _formula(value.get("chamfer", 0.0), f"{field}, chamfer", WHERE),
    )


def _place(value: object, field: str) -> tuple[Formula, Formula]:
    if not isinstance(value, list) or len(value) != 2:
        raise InvalidInput(field, "be [r, z], two numbers or formulas", repr(value)[:80], WHERE)
    return _formula(value[0], f"{field}, r", WHERE), _formula(value[1], f"{field}, z", WHERE)


def outline_sections(geometry: Outlines) -> list[Section]:
    """Return the sections of a drawn motor: [geometry] below its kind, and those that follow."""
    own = note(
        "Dimensions of your own: lengths, angles or plain numbers, under any names.  Studies",
        "change them as geometry.NAME; doc is what reports call them, from and to are points",
        "between which drawings show them.",
    )
    own += [_dimension_line(d) for d in geometry.dimensions]
    found = [Section("[geometry]", tuple(own))]
    if geometry.formulas:
        words = note(
            "In mm and degrees, each from dimensions and formulas above it: + - * / **, brackets,",
            "sqrt, abs, min, max, and sin, cos, tan of degrees.",
        )
        lines = [Line(name, _text(formula)) for name, formula in geometry.formulas]
        found.append(Section("[geometry.formulas]", (*words, *lines)))
    words = note(
        "Where the coil works.  Results count heights from the gap's middle.  More gaps stand in",
        "[[geometry.further_gaps]] with the same keys.  [geometry.roles] tells studies' rules what",
        'they may change: outer = ["..."], height = "...", follows = { one = "other" },',
        'flux_plates = ["..."], gap = ["diameter inside", "width"], all names of dimensions.',
    )
    found.append(Section("[geometry.gap]", (*words, *_gap_lines(geometry.gap_formulas))))
    more = [Section("[[geometry.further_gaps]]", _gap_lines(gap)) for gap in geometry.further_gaps]
    found.extend(more)
    if lines := _role_lines(geometry.declared):
        found.append(Section("[geometry.roles]", tuple(lines)))
    words = note(
        "A closed outline of points [r, z] in mm, numbers or formulas, either way round.",
        "{ at = [r, z], round = 2 } rounds a corner, chamfer = 1 cuts it, and",
        "{ at = [r, z], through = [r, z] } is reached by an arc through another point.",
        "Roles: steel, magnet, conductor.  A magnet has a magnetisation: up, down,",
        "outward, inward, or an angle in degrees from outward towards up.",
        'A part may have its own material = "...", may touch others or float in air.',
        "scale_r = 1.1, offset = 0.5 (edges outwards), move = [0, 2] change it as a whole.",
    )
    for k, part in enumerate(geometry.parts):
        above = words if k == 0 else []
        found.append(Section("[[geometry.parts]]", (*above, *_part_lines(part))))
    return found


def _dimension_line(d: Dimension) -> Line:
    if d.quantity == "number":
        text = repr(d.value)
    else:
        text = toml_text(format_quantity(d.value, d.quantity))
    more = f", doc = {toml_text(d.doc)}" if d.doc else ""
    more += "" if d.ends is None else f", from = {_pair(d.ends[0])}, to = {_pair(d.ends[1])}"
    return Line(d.name, f"{{ value = {text}{more} }}" if more else text)


def _gap_lines(gap: GapFormulas) -> tuple[Line, ...]:
    return tuple(Line(key, _text(formula)) for key, formula in zip(GAP, gap, strict=True))


def _part_lines(part: DrawnPart) -> list[Line]:
    lines = [Line("name", toml_text(part.name)), Line("role", f'"{part.role}"')]
    words = {"magnetisation": part.magnetisation, "material": part.material}
    lines += [Line(key, toml_text(text)) for key, text in words.items() if text]
    for key, value in (("scale_r", part.scale_r), ("offset", part.offset)):
        lines += [Line(key, _text(value))] if value != (1.0 if key == "scale_r" else 0.0) else []
    if part.move != (0.0, 0.0):
        lines.append(Line("move", _pair(part.move)))
    corners = "\n".join(f"    {_corner_text(c)}," for c in part.outline)
    return [*lines, Line("outline", f"[\n{corners}\n]")]


def _corner_text(corner: Corner) -> str:
    at = _pair(corner.at)
    if corner.through is not None:
        return f"{{ at = {at}, through = {_pair(corner.through)} }}"
    for key, value in (("round", corner.round), ("chamfer", corner.chamfer)):
        if value != 0.0:
            return f"{{ at = {at}, {key} = {_text(value)} }}"
    return at


def _pair(place: tuple[Formula, Formula]) -> str:
    return f"[{_text(place[0])}, {_text(place[1])}]"


def _text(formula: Formula) -> str:
    return toml_text(formula) if isinstance(formula, str) else repr(formula)
