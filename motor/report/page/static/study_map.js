/* Map, curves or cloud of the designs, whichever the study has. */
"use strict";

const motorMap = (() => {
  const study = motorStudy, { columns, data } = study;

  function edges(at) {
    const inner = at.slice(1).map((value, k) => (value + at[k]) / 2);
    const first = at[0] - (inner[0] - at[0]), last = at[at.length - 1];
    return [first, ...inner, last + (last - inner[inner.length - 1])];
  }

  function words(column, values) {
    const good = Array.from(values).filter(Number.isFinite);
    if (!good.length) return `No ${study.data.noun} has a value of ${study.label(column)}.`;
    const [low, high] = [Math.min(...good), Math.max(...good)];
    const unit = column.unit ? ` ${column.unit}` : "";
    const more = data.base === null ? NaN : column.values[data.base];
    const base = Number.isFinite(more) ? `; base design ${study.digits(more)}${unit}` : "";
    return `${column.what}: ${study.digits(low)} to ${study.digits(high)}${unit}${base}.`
      .replace(/^./, (c) => c.toUpperCase());
  }

  function drawMap() {
    const map = data.map, key = document.getElementById("map-result").value;
    const column = columns.get(key), values = column.values.subarray(0, study.count);
    const xs = edges(map.across), ys = edges(map.up);
    const good = { left: [], right: [], bottom: [], top: [], value: [], number: [] };
    const bad = { left: [], right: [], bottom: [], top: [], number: [] };
    map.cells.forEach((line, i) => line.forEach((number, j) => {
      if (number < 0) return;
      const known = Number.isFinite(values[number]), place = known ? good : bad;
      place.left.push(xs[j]);
      place.right.push(xs[j + 1]);
      place.bottom.push(ys[i]);
      place.top.push(ys[i + 1]);
      place.number.push(number);
      if (known) place.value.push(values[number]);
    }));
    const [low, high] = study.ends(values);
    const colours = study.model("map-colours");
    colours.low = low;
    colours.high = high;
    study.model("map-bar").title = study.label(column);
    study.fill("map-cells", good);
    study.fill("map-failed", bad);
    const lines = { xs: [], ys: [] }, labels = { x: [], y: [], text: [] };
    for (const { level, lines: pieces } of map.lines[key] ?? []) {
      const most = Math.max(...pieces.map(([x]) => x.length));
      for (const [x, y] of pieces) {
        lines.xs.push(x);
        lines.ys.push(y);
        if (x.length < most / 4) continue;
        const k = x.length >> 1;
        labels.x.push((x[k] + x[k - 1]) / 2);
        labels.y.push((y[k] + y[k - 1]) / 2);
        labels.text.push(String(level));
      }
    }
    study.fill("map-lines", lines);
    study.fill("map-labels", labels);
    study.ring("map-chosen", columns.get(map.x), columns.get(map.y), study.state.chosen);
    document.getElementById("map-words").textContent = words(column, values);
  }

  function drawCurves() {
    const key = document.getElementById("curves-result").value, column = columns.get(key);
    const spread = columns.get(column.spread)?.values;
    const x = [...columns.values()].find((c) => c.group === "varied" && !c.text);
    study.axis("curves-figure", "left", study.label(column));
    data.curves.forEach(({ members }, k) => {
      const known = members.filter((n) => Number.isFinite(column.values[n]));
      const band = (n) => (spread && Number.isFinite(spread[n]) ? spread[n] : 0);
      study.fill(`curve-${k}`, {
        x: known.map((n) => x.values[n]),
        y: known.map((n) => column.values[n]),
        low: known.map((n) => column.values[n] - band(n)),
        high: known.map((n) => column.values[n] + band(n)),
        number: known,
      });
    });
    study.ring("curves-chosen", x, column, study.state.chosen);
    document.getElementById("curves-words").textContent =
      words(column, column.values.subarray(0, study.count));
  }

  function drawPair() {
    const [x, y, colour] = ["x", "y", "colour"].map((which) =>
      columns.get(document.getElementById(`pair-${which}`).value) ?? null);
    const points = { x: [], y: [], value: [], number: [] };
    for (let n = 0; n < study.count; n++) {
      if (!Number.isFinite(x.values[n]) || !Number.isFinite(y.values[n])) continue;
      points.x.push(x.values[n]);
      points.y.push(y.values[n]);
      points.value.push(colour ? colour.values[n] : 0);
      points.number.push(n);
    }
    const colours = study.model("pair-colours");
    [colours.low, colours.high] = colour ? study.ends(points.value) : [-1, 1];
    const bar = study.model("pair-bar");
    bar.title = colour ? study.label(colour) : " ";
    bar.visible = colour !== null;
    study.axis("pair-figure", "below", study.label(x));
    study.axis("pair-figure", "left", study.label(y));
    study.fill("pair-points", points);
    study.ring("pair-chosen", x, y, study.state.chosen);
    const hollow = points.value.filter((value) => !Number.isFinite(value)).length;
    const missing = study.count - points.number.length;
    document.getElementById("pair-words").textContent =
      `${points.number.length} ${data.noun}s over ${study.label(x)} and ${study.label(y)}` +
      `${colour ? `, colour by ${study.label(colour)}` : ""}` +
      `${hollow ? `; ${hollow} hollow marks have no such value` : ""}` +
      `${missing ? `; ${missing} without a value are not shown` : ""}.`;
  }

  const parts = [
    ["map-result", ["map-result"], drawMap],
    ["curves-result", ["curves-result"], drawCurves],
    ["pair-x", ["pair-x", "pair-y", "pair-colour"], drawPair],
  ].filter(([there]) => document.getElementById(there));

  function start() {
    for (const [, controls, draw] of parts) {
      for (const control of controls) document.getElementById(control).addEventListener("change", draw);
      study.onChoose(draw);
      draw();
    }
  }

  return { start };
})();
