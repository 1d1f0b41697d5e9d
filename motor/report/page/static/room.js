/* Free space around a ring: how far it can move, what it overlaps (geometries/shapes.py).
   Outlines are lists of [r, z] in metres. */
"use strict";

const motorRoom = (() => {
  function inside(outline, u, v) {
    let odd = false;
    outline.forEach(([u1, v1], k) => {
      const [u0, v0] = outline[(k || outline.length) - 1];
      if (v0 > v !== v1 > v && u < u0 + ((v - v0) / (v1 - v0)) * (u1 - u0)) odd = !odd;
    });
    return odd;
  }

  /* The highest v, up to a limit, that an outline reaches between u = low and u = high;
     -Infinity where it has no area there.  Faces that only touch do not count. */
  function reachBelow(outline, low, high, limit) {
    let top = inside(outline, (low + high) / 2, limit - 1e-12) ? limit : -Infinity;
    outline.forEach(([u1, v1], k) => {
      const [u0, v0] = outline[(k || outline.length) - 1];
      let from = 0, to = 1;
      if (u0 === u1) {
        if (!(u0 > low && u0 < high)) return;
      } else {
        const ends = [(low - u0) / (u1 - u0), (high - u0) / (u1 - u0)];
        from = Math.max(0, Math.min(...ends));
        to = Math.min(1, Math.max(...ends));
        if (!(to > from)) return;
      }
      const point = (s) => (s === 0 ? v0 : s === 1 ? v1 : v0 + s * (v1 - v0));
      const [a, b] = [point(from), point(to)];
      if (Math.min(a, b) < limit) top = Math.max(top, Math.min(Math.max(a, b), limit));
    });
    return top;
  }

  const mirrored = (outline) => outline.map(([u, v]) => [u, -v]);
  const turned = (outline) => outline.map(([r, z]) => [z, r]);

  function verticalStops(parts, inner, outer, bottom, top) {
    let down = Infinity, up = Infinity;
    for (const { outline } of parts) {
      down = Math.min(down, bottom - reachBelow(outline, inner, outer, bottom));
      up = Math.min(up, -reachBelow(mirrored(outline), inner, outer, -top) - top);
    }
    return [down, up];
  }

  function radialRoom(parts, radius, bottom, top) {
    let inner = 0, outer = Infinity;
    for (const { outline } of parts) {
      const across = turned(outline);
      inner = Math.max(inner, reachBelow(across, bottom, top, radius));
      outer = Math.min(outer, -reachBelow(mirrored(across), bottom, top, -radius));
    }
    return [inner, outer];
  }

  /* The area of an outline within a box [r0, z0, r1, z1]. */
  function areaWithin(outline, [r0, z0, r1, z1]) {
    let points = outline;
    for (const [axis, limit, sign] of [[0, r0, 1], [0, r1, -1], [1, z0, 1], [1, z1, -1]]) {
      const within = (p) => sign * (p[axis] - limit) >= 0;
      const next = [];
      points.forEach((p, k) => {
        const q = points[(k || points.length) - 1];
        if (within(p) !== within(q)) {
          const s = (limit - q[axis]) / (p[axis] - q[axis]);
          const cut = [q[0] + s * (p[0] - q[0]), q[1] + s * (p[1] - q[1])];
          cut[axis] = limit;
          next.push(cut);
        }
        if (within(p)) next.push(p);
      });
      points = next;
    }
    let twice = 0;
    points.forEach(([a, b], k) => {
      const [c, d] = points[(k || points.length) - 1];
      twice += c * b - a * d;
    });
    return Math.abs(twice) / 2;
  }

  return { areaWithin, radialRoom, verticalStops };
})();
