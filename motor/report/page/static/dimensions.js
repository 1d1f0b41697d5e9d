/* A solved motor followed along its dimensions by first and second derivatives.

   The same arithmetic as motor/study/second_order.py, whose records the data hold.  Lengths in mm, displacements in
   metres.  evaluate(data, changes), changes in mm by lever, returns figures, bands, Bl(x) and outlines. */
"use strict";

const motorDimensions = (() => {
  const numbers = (text) => motorField.numbers(text, Float64Array);

  /* Values, what is open by uncertain slopes, and what second derivatives leave open. */
  function moved(text, change, third, factors, least = 0) {
    const rows = numbers(text), count = change.length;
    const n = rows.length / (3 * count + 2);
    const value = new Float64Array(n), doubt = new Float64Array(n), bent = new Float64Array(n);
    const slopes = 2 * n, doubts = slopes + count * n, bends = doubts + count * n;
    let largest = least, magnetic = false;
    for (let i = 0; i < n; i++) largest = Math.max(largest, Math.abs(rows[i]));
    for (let k = bends; k < rows.length; k++) magnetic = magnetic || rows[k] !== 0;
    for (let i = 0; i < n; i++) {
      let first = 0, second = 0, alone = 0, roots = 0, open = 0;
      for (let k = 0; k < count; k++) {
        const own = (change[k] ** 2 * rows[bends + k * n + i]) / 2;
        first += change[k] * rows[slopes + k * n + i];
        second += own;
        alone += Math.abs(own);
        roots += Math.sqrt(Math.abs(own));
        open += Math.abs(change[k]) * rows[doubts + k * n + i];
      }
      value[i] = rows[i] + first + second;
      doubt[i] = rows[n + i] + open;
      bent[i] =
        factors.together * (roots ** 2 - alone) + factors.third * alone + (magnetic ? third * largest : 0);
    }
    return { value, doubt, bent };
  }

  /* Volume of an outline turned about the axis (Pappus). */
  function revolved(outline) {
    let total = 0;
    outline.forEach(([r, z], k) => {
      const [after, up] = outline[(k + 1) % outline.length];
      total += (r + after) * (r * up - after * z);
    });
    return (Math.abs(total) * Math.PI) / 3;
  }

  function outlineOf(part, change) {
    const outline = part.outline.map(([r, z]) => [r, z]);
    for (const [k, way] of Object.entries(part.ways)) {
      way.forEach(([r, z], c) => {
        outline[c][0] += change[k] * r;
        outline[c][1] += change[k] * z;
      });
    }
    return outline;
  }

  function evaluate(data, changes) {
    const change = data.levers.map((lever) => changes[lever.name] ?? 0);
    const strain = data.levers.reduce((sum, lever, k) => sum + Math.abs(change[k]) * lever.strain, 0);
    const third = data.factors.strained * strain ** 3;
    const figures = {}, bands = {}, before = {};
    for (const [key, text] of Object.entries(data.figures)) {
      const floor = key.includes("asymmetry") ? data.factors.lean : 0;
      const { value, doubt, bent } = moved(text, change, third, data.factors, floor);
      figures[key] = value[0];
      bands[key] = Math.hypot(doubt[0], bent[0]);
      before[key] = numbers(text);
    }
    const x = numbers(data.x);
    const { value: bl, doubt, bent } = moved(data.bl, change, third, data.factors);
    const least = (key, among) => {
      const name = among.reduce((a, b) => (figures[b] < figures[a] ? b : a));
      figures[key] = figures[name];
      bands[key] = bands[name] ?? 0;
    };
    for (const share of [82, 70]) {
      for (const [sign, side] of [[-1, "inward"], [1, "outward"]]) {
        figures[`stroke_${share}_${side}_mm`] = 1e3 * motorWinding.firstFall(x, bl, sign, share / 100);
      }
      least(`stroke_${share}_mm`, [`stroke_${share}_inward_mm`, `stroke_${share}_outward_mm`]);
    }
    const { bl_at_rest_Tm: rest, coil_resistance_ohm: resistance } = figures;
    figures.motor_constant_N2_per_W = rest ** 2 / resistance;
    bands.motor_constant_N2_per_W = (2 * bands.bl_at_rest_Tm * rest) / resistance;
    const ways = data.travel.map(([now, ...slopes]) =>
      now === null ? Infinity : Math.max(slopes.reduce((sum, s, k) => sum + s * change[k], now), 0)
    );
    figures.mechanical_limit_mm = Math.min(...ways);
    figures.overhang_stroke_mm = Math.max(Math.abs(figures.overhang_mm) - Math.abs(data.rest_mm), 0);
    const limits = {
      bl_82: "stroke_82_mm", bl_70: "stroke_70_mm",
      mechanical: "mechanical_limit_mm", overhang: "overhang_stroke_mm",
    };
    for (const [name, value] of Object.entries(data.given)) {
      limits[name] = `${name}_stroke_mm`;
      figures[limits[name]] = value ?? Infinity;
    }
    least("usable_stroke_mm", data.limits.map((name) => limits[name]));
    const outlines = {}, masses = {};
    let cost = figures.coil_cost;
    for (const part of data.parts) {
      outlines[part.name] = outlineOf(part, change);
      const mass = part.density * revolved(outlines[part.name]) * 1e-6;
      masses[part.role] = (masses[part.role] ?? 0) + mass;
      cost += part.price * mass * 1e-3;
    }
    figures.motor_mass_g = Object.values(masses).reduce((a, b) => a + b, 0);
    figures.magnet_mass_g = masses.magnet ?? 0;
    figures.total_cost = cost;
    const far = Object.entries(data.allowed).some(
      ([key, share]) => key in before && bands[key] - before[key][1] > share * Math.abs(before[key][0])
    );
    return { figures, bands, x, bl, band: doubt.map((d, i) => Math.hypot(d, bent[i])), outlines, far };
  }

  return { evaluate };
})();
