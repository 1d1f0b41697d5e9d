/* Inductance and losses of any winding, from modes of the field along its way.  Same arithmetic as
   motor/results/winding_modes.py, whose docstrings say what it stands for.  SI units. */
"use strict";

const motorInductance = (() => {
  const { linspace } = motorCurves;
  const { numbers } = motorField;
  const SLACK = 1e-9, PLACES = 5, DRAWN = 33;

  /* Mean of each Legendre polynomial of the room's radius between two radii. */
  function means(data, inner, outer) {
    const [low, high] = data.radius, orders = data.shape[1];
    const [a, b] = [inner, outer].map((r) => (2 * (r - low)) / (high - low) - 1);
    const polynomials = (t) => {
      const found = [1, t];
      for (let n = 2; n <= orders; n++) {
        found.push((t * found[n - 1] * (2 * n - 1) - found[n - 2] * (n - 1)) / n);
      }
      return found;
    };
    const from = polynomials(a), to = polynomials(b), found = [1];
    for (let n = 1; n < orders; n++) {
      const more = to[n + 1] - from[n + 1] - (to[n - 1] - from[n - 1]);
      found.push(more / (2 * n + 1) / (b - a));
    }
    return found;
  }

  /* Adds to couplings what one winding has up to a height: a cubic through four places about it. */
  function add(data, flux, found, scale, weights, z) {
    const [low, high] = data.height, [modes, orders, count] = data.shape;
    const t = ((z - low) / (high - low)) * (count - 1);
    const k = Math.min(Math.max(Math.floor(t), 1), count - 3), s = t - k;
    const cubic = [
      (-s * (s - 1) * (s - 2)) / 6, ((s + 1) * (s - 1) * (s - 2)) / 2,
      (-(s + 1) * s * (s - 2)) / 2, ((s + 1) * s * (s - 1)) / 6,
    ];
    for (let j = 0; j < modes; j++) {
      let sum = 0;
      for (let p = 0; p < orders; p++) {
        const at = (j * orders + p) * count + k - 1;
        let value = 0;
        for (let i = 0; i < 4; i++) value += cubic[i] * flux[at + i];
        sum += weights[p] * value;
      }
      found[j] += scale * sum;
    }
  }

  function knows(data, windings, x) {
    const [inner, outer] = data.radius, [low, high] = data.height;
    const first = Math.min(...x), last = Math.max(...x);
    return windings.every(
      (w) =>
        w.inner >= inner - SLACK && w.outer <= outer + SLACK &&
        w.low + first >= low - SLACK && w.high + last <= high + SLACK
    );
  }

  /* Inductance (H) and resistance by eddy currents (ohm) at displacements, at one frequency. */
  function impedance(data, windings, x, frequency) {
    const flux = numbers(data.flux, Float32Array), omega = 2 * Math.PI * frequency;
    const inductance = [], resistance = [];
    for (const at of x) {
      const coupling = new Float64Array(data.shape[0]);
      for (const w of windings) {
        const weights = means(data, w.inner, w.outer), scale = w.ampereTurns / (w.high - w.low);
        add(data, flux, coupling, scale, weights, w.high + at);
        add(data, flux, coupling, -scale, weights, w.low + at);
      }
      let real = 0, lost = 0;
      coupling.forEach((c, j) => {
        const lag = omega * data.time_constant[j], share = (c * c) / (1 + lag * lag);
        real += share;
        lost += share * lag;
      });
      inductance.push(real);
      resistance.push(omega * lost);
    }
    return { inductance, resistance };
  }

  /* Relative errors of both for a winding of another height and build-up. */
  function misfit(data, height, buildUp) {
    const [far, wide] = [data.far_height, data.far_layers];
    const distance = Math.max(
      Math.abs(Math.log(height / data.winding[0])) / Math.log(far),
      Math.abs(Math.log(buildUp / data.winding[1])) / Math.log(wide)
    );
    return data.own.map((own, i) => own + (data.far[i] - own) * distance);
  }

  /* What the page shows of a coil: curves over its travel, figures at the chosen frequency. */
  function figures(data, coil, ends, stroke) {
    const { windings } = coil, [low, high] = data.height;
    const first = Math.max(ends[0], low - Math.min(...windings.map((w) => w.low)));
    const last = Math.min(ends[1], high - Math.max(...windings.map((w) => w.high)));
    const reach = Math.min(stroke, -ends[0], ends[1]);
    if (!(reach <= Math.min(-first, last) + SLACK)) return null;
    if (!knows(data, windings, [first, last])) return null;
    const x = linspace(first, last, DRAWN), k = data.chosen;
    const [off, lost] = misfit(data, coil.height, coil.buildUp);
    const curves = data.frequency.map((f, i) => {
      const { inductance } = impedance(data, windings, x, f);
      return { inductance, share: Math.hypot(data.mesh.inductance[i], off) };
    });
    const over = impedance(data, windings, linspace(-reach, reach, PLACES), data.frequency[k]);
    const atRest = over.inductance[(PLACES - 1) / 2], losses = over.resistance[(PLACES - 1) / 2];
    const doubt = Math.hypot(data.mesh.resistance[k], lost);
    return {
      x, curves,
      atRest: { value: atRest, uncertainty: curves[k].share * atRest },
      swing: Math.max(...over.inductance) - Math.min(...over.inductance),
      losses: { value: losses, uncertainty: doubt * losses },
    };
  }

  return { figures, impedance, knows, misfit };
})();
