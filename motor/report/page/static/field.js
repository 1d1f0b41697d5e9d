/* The solved potential in the column of triangles that a winding can lie in: its flux function
   along a line of constant radius, and the mean over a winding's radii (motor/results/profile.py). */
"use strict";

const motorField = (() => {
  const decoded = new Map();

  function numbers(text, Kind) {
    if (!decoded.has(text)) {
      const raw = atob(text);
      const bytes = Uint8Array.from(raw, (c) => c.charCodeAt(0));
      decoded.set(text, new Kind(bytes.buffer));
    }
    return decoded.get(text);
  }

  function shapes(a, b, c) {
    return [a * (2 * a - 1), b * (2 * b - 1), c * (2 * c - 1), 4 * a * b, 4 * b * c, 4 * a * c];
  }

  /* Flux function r A in Wb along a line of constant radius; second-order triangles. */
  function fluxAlong(column, radius, heights) {
    const r = numbers(column.r, Float64Array), z = numbers(column.z, Float64Array);
    const potential = numbers(column.potential, Float64Array);
    const nodes = numbers(column.nodes, Int32Array);
    const slack = 1e-9, crossed = [];
    for (let t = 0; t < nodes.length; t += 6) {
      const rs = [r[nodes[t]], r[nodes[t + 1]], r[nodes[t + 2]]];
      if (Math.min(...rs) - slack > radius || Math.max(...rs) + slack < radius) continue;
      const zs = [z[nodes[t]], z[nodes[t + 1]], z[nodes[t + 2]]];
      crossed.push({ t, rs, zs, low: Math.min(...zs) - slack, high: Math.max(...zs) + slack });
    }
    return heights.map((height) => {
      let best = -Infinity, found = null;
      for (const { t, rs, zs, low, high } of crossed) {
        if (height < low || height > high) continue;
        const [a0, a1] = [rs[0] - rs[2], zs[0] - zs[2]], [b0, b1] = [rs[1] - rs[2], zs[1] - zs[2]];
        const size = a0 * b1 - a1 * b0, dr = radius - rs[2], dz = height - zs[2];
        const first = (b1 * dr - b0 * dz) / size, second = (a0 * dz - a1 * dr) / size;
        const least = Math.min(first, second, 1 - first - second);
        if (least > best) {
          best = least;
          found = [t, first, second];
        }
        if (best >= 0) break;
      }
      if (best < -1e-6) {
        throw new RangeError(`z = ${height} m lies outside the solved space`);
      }
      const [t, first, second] = found;
      const weight = shapes(first, second, 1 - first - second);
      let value = 0;
      for (let k = 0; k < 6; k++) value += weight[k] * potential[nodes[t + k]];
      return value * radius;
    });
  }

  function meanFlux(data, column, inner, outer, z) {
    const mean = new Float64Array(z.length);
    data.gauss.points.forEach((point, k) => {
      const radius = 0.5 * (inner + outer) + 0.5 * (outer - inner) * point;
      const values = fluxAlong(column, radius, z);
      for (let i = 0; i < z.length; i++) mean[i] += data.gauss.weights[k] * values[i];
    });
    return mean;
  }

  return { meanFlux, numbers };
})();
