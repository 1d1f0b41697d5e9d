/* Strokes, resistance and masses of any winding in a field that is solved already.

   The same definitions, in the same order, as motor/results/motor_result.py (read_off), motor/design/coil.py,
   motor/design/design.py and motor/results/bl.py: both give the same numbers.  SI units throughout.
   evaluate(data, settings) returns { words } for a winding that cannot be, or the figures. */
"use strict";

const motorWinding = (() => {
  const { linspace, Spline, interpolated } = motorCurves;
  const { areaWithin, radialRoom, verticalStops } = motorRoom;

  class Impossible extends Error {}

  const spoken = (name) => name.replaceAll("_", " ");
  const millimetres = (length) => `${Number((length * 1e3).toPrecision(6))} mm`;

  function coilOf(data, { winding_height: height, layers, wire: index, rest_position: rest }) {
    const fixed = data.coil, wire = data.wires[index];
    const turnsPerLayer = Math.trunc(height / wire.pitch + 1e-9);
    if (turnsPerLayer < 1) {
      throw new Impossible(
        `winding_height must hold at least one turn of ${millimetres(wire.pitch)}; ` +
          `received ${millimetres(height)}`
      );
    }
    const turns = layers * turnsPerLayer;
    if (turns % fixed.windings) {
      throw new Impossible(
        `windings must share ${turns} turns equally; received ${fixed.windings}`
      );
    }
    const bore = fixed.inner_diameter / 2, inner = bore + fixed.former_thickness;
    const buildUp = layers * wire.build, outer = inner + buildUp, mean = (inner + outer) / 2;
    const length = 2 * Math.PI * mean * turns;
    const whole = (data.conductor.resistivity * length) / wire.conductor_area;
    const mass = data.conductor.density * wire.conductor_area * length;
    const enamel = data.enamel_density * (wire.overall_area - wire.conductor_area) * length;
    const formerLength = height + fixed.former_below + fixed.former_above;
    const around = Math.PI * (fixed.inner_diameter + fixed.former_thickness);
    return {
      height, rest, layers, turns, turnsPerLayer, bore, inner, outer, mean, buildUp, mass,
      turnsInSeries: fixed.parallel ? Math.floor(turns / fixed.windings) : turns,
      resistance: fixed.parallel ? whole / fixed.windings ** 2 : whole,
      massWithEnamel: mass + enamel,
      formerMass: fixed.former_density * around * fixed.former_thickness * formerLength,
      low: rest - height / 2,
      high: rest + height / 2,
    };
  }

  function checkRoom(data, coil) {
    const fixed = data.coil;
    const shapesAtRest = [["winding", [coil.inner, coil.low, coil.outer, coil.high]]];
    if (fixed.former_thickness > 0) {
      const former = [
        coil.bore, coil.low - fixed.former_below, coil.inner, coil.high + fixed.former_above,
      ];
      shapesAtRest.push(["former", former]);
    }
    for (const [name, box] of shapesAtRest) {
      for (const part of data.parts) {
        if (areaWithin(part.outline, box) > data.area_grain) {
          throw new Impossible(
            `the coil's ${name} must stay clear of the ${spoken(part.name)} at rest; ` +
              `received an overlap (change ${data.changes[name]})`
          );
        }
      }
    }
    const { bottom, top, free_inner: freeInner, free_outer: freeOuter } = data.gap;
    const [inner, outer] = radialRoom(
      data.parts, coil.mean, Math.min(coil.low, bottom), Math.max(coil.high, top)
    );
    const clearance = {
      inner: coil.bore - Math.max(inner, freeInner),
      outer: Math.min(outer, freeOuter) - coil.outer,
    };
    for (const side of ["inner", "outer"]) {
      if (!(clearance[side] > 0)) {
        throw new Impossible(
          `coil must clear the parts on its ${side} side (free gap from diameter ` +
            `${millimetres(2 * freeInner)} to ${millimetres(2 * freeOuter)}); received ${side} ` +
            `clearance ${millimetres(clearance[side])} for a coil from diameter ` +
            `${millimetres(2 * coil.bore)} to ${millimetres(2 * coil.outer)} (change ${data.changes[side]})`
        );
      }
    }
    return clearance;
  }

  function contactOf(data, coil) {
    let [down, up] = verticalStops(data.parts, coil.inner, coil.outer, coil.low, coil.high);
    if (coil.inner > coil.bore) {
      const foot = coil.low - data.coil.former_below;
      const former = verticalStops(data.parts, coil.bore, coil.inner, foot, coil.high);
      down = Math.min(down, former[0]);
      up = Math.min(up, former[1]);
    }
    return { inward: down, outward: up };
  }

  function movingOf(data, coil) {
    if (data.moving === null) return { mass: null, resonance: null };
    const { mass, total_mass: total, stiffness } = data.moving;
    const least = coil.massWithEnamel + coil.formerMass;
    const moving = total === null ? mass + coil.massWithEnamel + coil.formerMass : total;
    if (!(moving > least)) {
      throw new Impossible(
        `moving_parts.total_mass must be greater than that of its coil, ` +
          `${Number((least * 1e3).toPrecision(4))} g; received ` +
          `${Number((moving * 1e3).toPrecision(4))} g`
      );
    }
    return { mass: moving, resonance: Math.sqrt(stiffness / moving) / (2 * Math.PI) };
  }

  function curveOf(data, coil, contact) {
    const { width, depth } = data.gap;
    const reach = (coil.height + depth) / 2 + 2 * width + Math.abs(coil.rest);
    const inward = Math.min(reach, contact.inward), outward = Math.min(reach, contact.outward);
    const low = coil.rest - inward - coil.height / 2, high = coil.rest + outward + coil.height / 2;
    const step = width / data.profile_steps;
    const z = linspace(low, high, Math.max(8, Math.ceil((high - low) / step) + 1));
    const x = linspace(-inward, outward, data.samples);
    const force = (column) => {
      const flux = new Spline(z, motorField.meanFlux(data, column, coil.inner, coil.outer, z));
      const scale = (2 * Math.PI * coil.turnsInSeries) / coil.height;
      return x.map((shift) => {
        const middle = coil.rest + shift;
        return scale * (flux.at(middle - coil.height / 2) - flux.at(middle + coil.height / 2));
      });
    };
    const fine = force(data.fine), coarse = data.coarse === null ? fine : force(data.coarse);
    const sign = interpolated(x, fine, 0) >= 0 ? 1 : -1;
    return { x, bl: fine.map((v) => sign * v), coarse: coarse.map((v) => sign * v) };
  }

  function bound(data, fine, coarse, scale) {
    if (data.errors === null) return NaN;
    return Math.hypot(data.errors.change * (fine - coarse), data.errors.tail * scale);
  }

  function firstFall(x, bl, sign, share) {
    const here = interpolated(x, bl, 0), limit = share * here;
    let before = 0, value = here;
    for (let i = sign > 0 ? 0 : x.length - 1; i >= 0 && i < x.length; i += sign) {
      if (!(sign * x[i] > 0)) continue;
      const distance = Math.abs(x[i]);
      if (bl[i] < limit) {
        return before + ((value - limit) / (value - bl[i])) * (distance - before);
      }
      before = distance;
      value = bl[i];
    }
    return Infinity;
  }

  function strokeOf(data, curve, spline, atRest, share) {
    const side = (sign) => {
      const fine = firstFall(curve.x, curve.bl, sign, share);
      if (!Number.isFinite(fine)) return { value: Infinity, uncertainty: 0 };
      const end = Math.abs(curve.x[sign < 0 ? 0 : curve.x.length - 1]);
      const slope = Math.abs(spline.at(sign * fine, true));
      const carried = slope ? (data.carried * atRest) / slope : Infinity;
      let coarse = firstFall(curve.x, curve.coarse, sign, share);
      if (!Number.isFinite(coarse)) coarse = end;
      const spread = bound(data, fine, coarse, Math.max(fine, carried));
      return { value: fine, uncertainty: Math.min(spread, Math.max(end, fine)) };
    };
    const inward = side(-1), outward = side(1);
    return { inward, outward, symmetric: outward.value < inward.value ? outward : inward };
  }

  function evaluate(data, settings) {
    try {
      const coil = coilOf(data, settings);
      const clearance = checkRoom(data, coil);
      const moving = movingOf(data, coil);
      const contact = contactOf(data, coil);
      const margin = data.coil.travel_margin;
      const travel = {
        inward: Math.max(contact.inward - margin, 0),
        outward: Math.max(contact.outward - margin, 0),
      };
      const curve = curveOf(data, coil, contact);
      const spline = new Spline(curve.x, curve.bl);
      const coarse = new Spline(curve.x, curve.coarse);
      const rest = spline.at(0);
      const atRest = { value: rest, uncertainty: bound(data, rest, coarse.at(0), rest) };
      const most = curve.bl.reduce((a, b) => Math.max(a, Math.abs(b)), 0);
      const stroke82 = strokeOf(data, curve, spline, rest, 0.82);
      const stroke70 = strokeOf(data, curve, spline, rest, 0.7);
      const overhang = (coil.height - data.gap.depth) / 2;
      const given = {};
      for (const [name, value] of Object.entries(data.given_limits)) {
        given[name] = { value: value === null ? Infinity : value, uncertainty: 0 };
      }
      const limits = {
        bl_82: stroke82.symmetric,
        bl_70: stroke70.symmetric,
        ...given,
        overhang: { value: Math.max(Math.abs(overhang) - Math.abs(coil.rest), 0), uncertainty: 0 },
        mechanical: { value: Math.min(travel.inward, travel.outward), uncertainty: 0 },
      };
      let limitedBy = data.limits[0];
      for (const name of data.limits) if (limits[name].value < limits[limitedBy].value) limitedBy = name;
      return {
        words: null, coil, clearance, contact, travel, atRest, stroke82, stroke70, overhang,
        x: curve.x,
        bl: curve.bl,
        spread: curve.bl.map((v, i) => bound(data, v, curve.coarse[i], most)),
        usable: { ...limits[limitedBy], limitedBy },
        movingMass: moving.mass,
        resonance: moving.resonance,
        motorConstant: rest ** 2 / coil.resistance,
      };
    } catch (problem) {
      if (problem instanceof Impossible) return { words: problem.message };
      if (problem instanceof RangeError) {
        return { words: "the winding's path must stay within the space that was solved" };
      }
      throw problem;
    }
  }

  return { evaluate };
})();
