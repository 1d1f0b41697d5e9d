/* Curves as the program draws them: even spacing, cubic splines with not-a-knot ends, straight
   interpolation.  Same arithmetic as numpy's linspace and interp and scipy's CubicSpline. */
"use strict";

const motorCurves = (() => {
  function linspace(low, high, count) {
    const step = (high - low) / (count - 1);
    const values = Float64Array.from({ length: count }, (_, k) => k * step + low);
    values[count - 1] = high;
    return values;
  }

  function segment(x, at) {
    let low = 0, high = x.length - 2;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (x[middle] <= at) low = middle; else high = middle - 1;
    }
    return low;
  }

  /* Cubic spline with not-a-knot ends: slopes at the knots from a tridiagonal system. */
  class Spline {
    constructor(x, y) {
      const n = x.length;
      const h = new Float64Array(n - 1), rise = new Float64Array(n - 1);
      for (let i = 0; i < n - 1; i++) {
        h[i] = x[i + 1] - x[i];
        rise[i] = (y[i + 1] - y[i]) / h[i];
      }
      const lower = new Float64Array(n), middle = new Float64Array(n);
      const upper = new Float64Array(n), slope = new Float64Array(n);
      for (let i = 1; i < n - 1; i++) {
        lower[i] = h[i];
        middle[i] = 2 * (h[i - 1] + h[i]);
        upper[i] = h[i - 1];
        slope[i] = 3 * (h[i] * rise[i - 1] + h[i - 1] * rise[i]);
      }
      const first = x[2] - x[0], last = x[n - 1] - x[n - 3];
      middle[0] = h[1];
      upper[0] = first;
      slope[0] = ((h[0] + 2 * first) * h[1] * rise[0] + h[0] ** 2 * rise[1]) / first;
      lower[n - 1] = last;
      middle[n - 1] = h[n - 3];
      slope[n - 1] =
        (h[n - 2] ** 2 * rise[n - 3] + (2 * last + h[n - 2]) * h[n - 3] * rise[n - 2]) / last;
      for (let i = 1; i < n; i++) {
        const share = lower[i] / middle[i - 1];
        middle[i] -= share * upper[i - 1];
        slope[i] -= share * slope[i - 1];
      }
      slope[n - 1] /= middle[n - 1];
      for (let i = n - 2; i >= 0; i--) slope[i] = (slope[i] - upper[i] * slope[i + 1]) / middle[i];
      Object.assign(this, { x, y, h, rise, slope });
    }

    at(position, derivative = false) {
      const i = segment(this.x, position), t = position - this.x[i], h = this.h[i];
      const bend = (this.slope[i] + this.slope[i + 1] - 2 * this.rise[i]) / h;
      const c3 = bend / h, c2 = (this.rise[i] - this.slope[i]) / h - bend;
      return derivative
        ? (3 * c3 * t + 2 * c2) * t + this.slope[i]
        : ((c3 * t + c2) * t + this.slope[i]) * t + this.y[i];
    }
  }

  function interpolated(x, y, at) {
    const i = segment(x, at);
    return ((y[i + 1] - y[i]) / (x[i + 1] - x[i])) * (at - x[i]) + y[i];
  }

  return { linspace, Spline, interpolated };
})();
