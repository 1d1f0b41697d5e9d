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

  /* One winding by its settings: on the former or, a part's, on what its data say. */
  function windingOf(data, own, settings, wire, rest) {
    const { winding_height: height, layers } = settings, fixed = data.coil;
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
    const inner = own.inner, buildUp = layers * wire.build, outer = inner + buildUp;
    const mean = (inner + outer) / 2, length = 2 * Math.PI * mean * turns;
    const { resistivity, cold_resistivity: cold, density } = wire.conductor;
    const whole = (resistivity * length) / wire.conductor_area;
    const mass = density * wire.conductor_area * length;
    const enamel = data.enamel_density * (wire.overall_area - wire.conductor_area) * length;
    return {
      name: own.name, sense: own.sense,
      height, rest, layers, turns, turnsPerLayer, inner, outer, mean, buildUp, mass,
      turnsInSeries: fixed.parallel ? Math.floor(turns / fixed.windings) : turns,
      resistance: fixed.parallel ? whole / fixed.windings ** 2 : whole,
      coldResistance: (cold * length) / wire.conductor_area,
      massWithEnamel: mass + enamel,
      low: rest - height / 2,
      high: rest + height / 2,
    };
  }

  const sum = (items, read) => items.reduce((total, item) => total + read(item), 0);

  function apart(windings) {
    const grain = 1e-9;
    windings.forEach((one, k) => {
      for (const other of windings.slice(0, k)) {
        const tall = Math.min(one.high, other.high) - Math.max(one.low, other.low);
        const wide = Math.min(one.outer, other.outer) - Math.max(one.inner, other.inner);
        if (tall > grain && wide > grain) {
          throw new Impossible(
            `parts.${one.name} must stay clear of ${other.name}; received an overlap of ` +
              `${millimetres(wide)} x ${millimetres(tall)}`
          );
        }
      }
    });
  }

  /* All windings together; heights, radii and rest position are those of the main one. */
  function coilOf(data, settings) {
    const fixed = data.coil, bore = fixed.inner_diameter / 2;
    const thick = bore + fixed.former_thickness, wire = data.wires[settings.wire];
    const rest = settings.rest_position, further = settings.further ?? data.as_designed;
    const main = { name: "winding", sense: 1, inner: thick };
    const windings = [windingOf(data, main, settings, wire, rest)];
    data.further.forEach((part, k) => {
      const own = { name: part.name, sense: part.sense, inner: part.inner ?? thick };
      const chosen = further[k].wire === null ? wire : part.wires[further[k].wire];
      windings.push(windingOf(data, own, further[k], chosen, rest + further[k].rest_position));
    });
    apart(windings);
    const parallel = windings.length > 1 && fixed.parallel;
    const whole = sum(windings, (w) => 1 / w.coldResistance);
    for (const w of windings) {
      w.ampereTurns = w.sense * w.turnsInSeries * (parallel ? 1 / w.coldResistance / whole : 1);
    }
    const low = Math.min(...windings.map((w) => w.low));
    const high = Math.max(...windings.map((w) => w.high));
    const formerLength = high - low + fixed.former_below + fixed.former_above;
    const around = Math.PI * (fixed.inner_diameter + fixed.former_thickness);
    return {
      ...windings[0], windings, bore, low, high,
      turns: sum(windings, (w) => w.turns),
      mass: sum(windings, (w) => w.mass),
      massWithEnamel: sum(windings, (w) => w.massWithEnamel),
      resistance: parallel
        ? 1 / sum(windings, (w) => 1 / w.resistance)
        : sum(windings, (w) => w.resistance),
      formerMass: fixed.former_density * around * fixed.former_thickness * formerLength,
    };
  }

  function checkRoom(data, coil) {
    const fixed = data.coil;
    const shapesAtRest = coil.windings.map((w, k) => [
      k ? `winding_${w.name}` : "winding", [w.inner, w.low, w.outer, w.high],
    ]);
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
              `received an overlap (change ${data.changes[name.split("_")[0]]})`
          );
        }
      }
    }
    const gaps = data.gaps;
    const freeInner = Math.max(...gaps.map((g) => g.free_inner));
    const freeOuter = Math.min(...gaps.map((g) => g.free_outer));
    const [inner] = radialRoom(
      data.parts, coil.mean,
      Math.min(coil.low, ...gaps.map((g) => g.bottom)),
      Math.max(coil.high, ...gaps.map((g) => g.top))
    );
    const roomOutside = (w, k) => {
      const near = gaps.filter((g, j) => (!k && !j) || (g.top > w.low && g.bottom < w.high));
      const [, outer] = radialRoom(
        data.parts, w.mean,
        Math.min(w.low, ...near.map((g) => g.bottom)),
        Math.max(w.high, ...near.map((g) => g.top))
      );
      return Math.min(outer, ...near.map((g) => g.free_outer)) - w.outer;
    };
    const clearance = {
      inner: coil.bore - Math.max(inner, freeInner),
      outer: Math.min(...coil.windings.map(roomOutside)),
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
    let [down, up] = [Infinity, Infinity];
    for (const w of coil.windings) {
      const stops = verticalStops(data.parts, w.inner, w.outer, w.low, w.high);
      down = Math.min(down, stops[0]);
      up = Math.min(up, stops[1]);
    }
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
    const wayOut = (w) => {
      const away = (gap) => Math.abs(w.rest - (gap.bottom + gap.top) / 2);
      const gap = data.gaps.reduce((a, b) => (away(b) < away(a) ? b : a));
      return (w.height + gap.depth) / 2 + 2 * gap.width + away(gap);
    };
    const reach = Math.max(...coil.windings.map(wayOut));
    const inward = Math.min(reach, contact.inward), outward = Math.min(reach, contact.outward);
    const step = data.gap.width / data.profile_steps;
    const x = linspace(-inward, outward, data.samples);
    const forceOn = (w, column) => {
      const low = w.low - inward, high = w.high + outward;
      const z = linspace(low, high, Math.max(8, Math.ceil((high - low) / step) + 1));
      const flux = new Spline(z, motorField.meanFlux(data, column, w.inner, w.outer, z));
      const scale = (2 * Math.PI * w.ampereTurns) / w.height;
      return x.map((shift) => {
        const middle = w.rest + shift;
        return scale * (flux.at(middle - w.height / 2) - flux.at(middle + w.height / 2));
      });
    };
    const force = (column) => {
      const each = coil.windings.map((w) => forceOn(w, column));
      return x.map((_, i) => sum(each, (f) => f[i]));
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
      const spread = data.fallen * bound(data, fine, coarse, Math.max(fine, carried));
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
      const ends = [curve.x[0], curve.x[curve.x.length - 1]];
      return {
        words: null, coil, clearance, contact, travel, atRest, stroke82, stroke70, overhang,
        inductance: data.inductance
          ? motorInductance.figures(data.inductance, coil, ends, stroke82.symmetric.value)
          : null,
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

  return { evaluate, firstFall };
})();
