/* The live block: sliders to settings, settings to figures, figures to curve, table and lines to
   copy.  All arithmetic is in winding.js.  Of a coil with parts the sliders show one at a time. */
"use strict";

const motorLive = (() => {
  const block = document.getElementById("live");
  const data = JSON.parse(document.getElementById("live-data").textContent);
  const names = ["winding_height", "layers", "wire", "rest_position"];
  const slider = Object.fromEntries(names.map((n) => [n, document.getElementById(`live-${n}`)]));
  const status = document.getElementById("live-status");
  const state = { settings: null, result: null };
  const picker = document.getElementById("live-part");
  const windings = [data, ...data.further];
  const start = () =>
    windings.map((w) => Object.fromEntries(names.map((n) => [n, w.sliders[n].value])));
  let values = start(), chosen = 0;

  const asDesigned = (name, k) => values[k][name] === windings[k].sliders[name].value;
  const metres = (name, k) =>
    asDesigned(name, k)
      ? windings[k].exact[name].metres
      : Number((Number(values[k][name]) / 1e3).toPrecision(15));
  const written = (name, k) =>
    asDesigned(name, k) ? windings[k].exact[name].text : `${values[k][name]} mm`;
  /* A part without a wire of its own has the main winding's. */
  const follows = (k) => k > 0 && data.as_designed[k - 1].wire === null && asDesigned("wire", k);
  const limitNames = {
    bl_82: "Bl at 82 %", bl_70: "Bl at 70 %", overhang: "geometric overhang",
    mechanical: "mechanical stop", compliance: "compliance at 75 %",
    inductance: "inductance changed by 10 %",
  };

  /* ---- words for numbers ----------------------------------------------------------------- */

  function digits(value, count) {
    if (value === null || !Number.isFinite(value)) return "none";
    return Math.abs(value) >= 10 ** count ? value.toFixed(0) : value.toPrecision(count);
  }
  const mm = (length, count = 3) => digits(length * 1e3, count);
  const reached = (length) => (Number.isFinite(length) ? mm(length) : "not before contact");
  const sides = ({ inward, outward }) =>
    `inward ${reached(inward.value)}, outward ${reached(outward.value)}`;
  const free = (length) => (Number.isFinite(length) ? mm(length) : "unlimited");

  /* For each row of the table: the number compared, its text, and a remark. */
  const rows = {
    bl: (f) => [f.atRest.value, digits(f.atRest.value, 4)],
    constant: (f) => [f.motorConstant, digits(f.motorConstant, 4)],
    stroke_82: (f) => [f.stroke82.symmetric.value, mm(f.stroke82.symmetric.value), sides(f.stroke82)],
    stroke_70: (f) => [f.stroke70.symmetric.value, mm(f.stroke70.symmetric.value), sides(f.stroke70)],
    overhang: (f) => [f.overhang, mm(f.overhang), f.overhang < 0 ? "underhung" : ""],
    mechanical: (f) => [
      Math.min(f.travel.inward, f.travel.outward),
      mm(Math.min(f.travel.inward, f.travel.outward)),
      `inward ${free(f.travel.inward)}, outward ${free(f.travel.outward)}; margin deducted`,
    ],
    usable: (f) => [f.usable.value, mm(f.usable.value), `limited by: ${limitNames[f.usable.limitedBy]}`],
    turns: (f) => [
      f.coil.turns, String(f.coil.turns),
      f.coil.windings.map((w) => `${w.layers} layers of ${w.turnsPerLayer}`).join(" and "),
    ],
    resistance: (f) => [f.coil.resistance, digits(f.coil.resistance, 4)],
    coil_mass: (f) => [
      f.coil.mass, digits(f.coil.mass * 1e3, 3), `${digits(f.coil.massWithEnamel * 1e3, 3)} g with enamel`,
    ],
    moving_mass: (f) => [f.movingMass, digits(f.movingMass * 1e3, 3)],
    resonance: (f) => [f.resonance, digits(f.resonance, 3), "free air"],
    clearance_inner: (f) => [f.clearance.inner, (f.clearance.inner * 1e3).toFixed(3)],
    clearance_outer: (f) => [f.clearance.outer, (f.clearance.outer * 1e3).toFixed(3)],
  };

  /* Of the inductance the design's own value is filled in too, computed in the same way. */
  const unknown = [NaN, "not known", "wider or farther than what was solved for"];
  const ofCoil = (read) => (f) => (f.inductance === null ? unknown : read(f.inductance));
  const known = ({ value, uncertainty }, scale) =>
    [value, digits(value * scale, 3), `± ${digits(uncertainty * scale, 1)} numerical`];
  Object.assign(rows, {
    inductance: ofCoil((l) => known(l.atRest, 1e3)),
    inductance_swing: ofCoil((l) => [l.swing, digits(l.swing * 1e3, 3)]),
    eddy_resistance: ofCoil((l) => known(l.losses, 1)),
  });

  /* ---- settings -------------------------------------------------------------------------- */

  function settingsOf(k) {
    return {
      winding_height: metres("winding_height", k),
      layers: Number(values[k].layers),
      wire: follows(k) ? null : Number(values[k].wire),
      rest_position: metres("rest_position", k),
    };
  }

  const settings = () => ({
    ...settingsOf(0), further: data.further.map((_, k) => settingsOf(k + 1)),
  });

  function spokenSetting(name) {
    const value = slider[name].value;
    if (name === "wire") {
      return follows(chosen) ? "as the main winding" : windings[chosen].wires[value].label;
    }
    if (name === "layers") return value;
    const places = Math.min(4, (value.split(".")[1] ?? "").length);
    const number = Number(value).toFixed(Math.max(1, places));
    return `${name === "rest_position" && Number(value) > 0 ? "+" : ""}${number} mm`;
  }

  function designLines() {
    const lines = (k) => [
      k ? "[[coil.parts]]" : "[coil]",
      ...windings[k].coil_lines,
      `winding_height = "${written("winding_height", k)}"`,
      `layers = ${values[k].layers}`,
      `${k ? "place" : "rest_position"} = "${written("rest_position", k)}"`,
      ...(follows(k)
        ? []
        : ["", k ? "[coil.parts.wire]" : "[coil.wire]", ...windings[k].wires[values[k].wire].lines]),
    ];
    return windings.flatMap((_, k) => (k ? ["", ...lines(k)] : lines(k))).join("\n");
  }

  /* ---- showing --------------------------------------------------------------------------- */

  function model(name) {
    const found = (window.Bokeh?.documents ?? []).map((d) => d.get_model_by_name(name));
    return found.find((m) => m !== null && m !== undefined) ?? null;
  }

  function goalPost(curve, stroke, share, rest) {
    const first = curve.x[0], last = curve.x[curve.x.length - 1];
    const left = Math.max(-stroke.inward.value, first) * 1e3;
    const right = Math.min(stroke.outward.value, last) * 1e3;
    return { x: [left, left, right, right], y: [0, share * rest, share * rest, 0] };
  }

  function draw(figures) {
    const possible = figures.words === null;
    const curve = model("live-curve");
    if (curve === null) return;
    const x = possible ? figures.x.map((v) => v * 1e3) : [];
    const bl = possible ? figures.bl : [];
    const spread = possible ? figures.spread.map((v) => (Number.isFinite(v) ? v : 0)) : [];
    model("live-force").start = Math.min(0, 1.05 * bl.reduce((a, b) => Math.min(a, b), 0));
    curve.data = {
      x, bl, spread,
      low: Float64Array.from(bl, (v, i) => v - spread[i]),
      high: Float64Array.from(bl, (v, i) => v + spread[i]),
    };
    for (const [name, share, key] of [["share_82", 0.82, "stroke82"], ["share_70", 0.7, "stroke70"]]) {
      model(`live-${name}`).data = possible
        ? goalPost(figures, figures[key], share, figures.atRest.value)
        : { x: [], y: [] };
    }
    for (const [side, sign] of [["in", -1], ["out", 1]]) {
      const line = model(`live-usable-${side}`);
      line.visible = possible && Number.isFinite(figures.usable.value);
      if (line.visible) line.location = sign * figures.usable.value * 1e3;
      const stop = model(`live-stop-${side}`);
      const limit = possible ? figures.travel[sign < 0 ? "inward" : "outward"] : Infinity;
      stop.visible = Number.isFinite(limit) && limit * 1e3 < Math.abs(x[sign < 0 ? 0 : x.length - 1]);
      if (stop.visible) stop[sign < 0 ? "right" : "left"] = sign * limit * 1e3;
    }
  }

  function drawInductance(figures) {
    const found = figures.words === null ? figures.inductance : null;
    (data.inductance?.drawn ?? []).forEach((k, place) => {
      const source = model(`live-inductance-${place}`);
      if (source === null) return;
      const x = found === null ? [] : Float64Array.from(found.x, (v) => v * 1e3);
      const l = found === null ? [] : found.curves[k].inductance.map((v) => v * 1e3);
      const spread = l.map((v) => v * found.curves[k].share);
      source.data = {
        x, l, spread,
        low: l.map((v, i) => v - spread[i]),
        high: l.map((v, i) => v + spread[i]),
      };
    });
  }

  function tell(figures) {
    block.classList.toggle("impossible", figures.words !== null);
    status.textContent =
      figures.words === null
        ? `Bl at rest ${rows.bl(figures)[1]} T m; usable stroke ${rows.usable(figures)[1]} mm, ` +
          `${rows.usable(figures)[2]}; Re ${rows.resistance(figures)[1]} ohm.`
        : `This winding cannot be: ${figures.words}.`;
    for (const row of block.querySelectorAll("tr[data-row]")) {
      const [value, change, remark] = ["live", "change", "remark"].map((c) =>
        row.querySelector(`[data-cell=${c}]`)
      );
      value.textContent = change.textContent = remark.textContent = "";
      if (figures.words !== null) {
        value.textContent = "not possible";
        continue;
      }
      const [number, text, note] = rows[row.dataset.row](figures);
      const before = rows[row.dataset.row](state.design)[0];
      value.textContent = text;
      const designed = row.querySelector("[data-cell=designed]");
      if (designed.textContent === "") designed.textContent = rows[row.dataset.row](state.design)[1];
      remark.textContent = note ?? "";
      const share = (100 * (number - before)) / Math.abs(before);
      if (Number.isFinite(share) && Math.abs(share) >= 0.05) {
        change.textContent = `${share > 0 ? "+" : "−"}${Math.abs(share).toFixed(1)} %`;
      }
    }
  }

  const placeLabel = document.querySelector("label[for=live-rest_position]");
  const ofMain = placeLabel.textContent;

  function show() {
    placeLabel.textContent = chosen ? "Middle above that of the main winding" : ofMain;
    for (const name of names) {
      const { min, max, step } = windings[chosen].sliders[name];
      Object.assign(slider[name], { min, max, step });
      slider[name].value = values[chosen][name];
      const [low, high] = slider[name].closest(".control").querySelectorAll(".ends span");
      const wires = windings[chosen].wires;
      low.textContent = name === "wire" ? wires[0].label : `${min}${name === "layers" ? "" : " mm"}`;
      high.textContent =
        name === "wire" ? wires[wires.length - 1].label : `${max}${name === "layers" ? "" : " mm"}`;
    }
  }

  function follow() {
    for (const name of names) values[chosen][name] = slider[name].value;
    for (const name of names) {
      const text = spokenSetting(name);
      document.getElementById(`live-${name}-value`).textContent = text;
      slider[name].setAttribute("aria-valuetext", text);
    }
    state.settings = settings();
    state.result = motorWinding.evaluate(data, state.settings);
    document.getElementById("live-lines").textContent = designLines();
    tell(state.result);
    draw(state.result);
    drawInductance(state.result);
  }

  function reset() {
    values = start();
    show();
    follow();
  }

  for (const name of names) slider[name].addEventListener("input", follow);
  picker?.addEventListener("change", () => {
    chosen = Number(picker.value);
    show();
    follow();
  });
  document.getElementById("live-reset").addEventListener("click", reset);
  if (picker) picker.value = "0";
  show();
  state.design = motorWinding.evaluate(data, settings());
  follow();
  (function drawWhenReady() {
    if (model("live-curve") === null) setTimeout(drawWhenReady, 50);
    else {
      draw(state.result);
      drawInductance(state.result);
    }
  })();
  return state;
})();
