/* The block of dimensions: sliders to changes, changes to section, curve, table and lines to copy.
   All arithmetic is in dimensions.js. */
"use strict";

const motorTried = (() => {
  const place = document.getElementById("dimension-data");
  if (!place) return null;
  const data = JSON.parse(place.textContent);
  const block = document.getElementById("try-dimensions");
  const status = document.getElementById("dim-status");
  const sliders = data.levers.map((_, k) => document.getElementById(`dim-${k}`));
  const drawn = [...block.querySelectorAll(".dim-part")];
  const state = { result: null, design: motorDimensions.evaluate(data, {}) };

  const touched = (k) => sliders[k].value !== data.levers[k].slider.value;
  const changes = () =>
    Object.fromEntries(
      data.levers.map((lever, k) => [lever.name, touched(k) ? Number(sliders[k].value) - lever.value : 0])
    );
  const digits = (value) =>
    !Number.isFinite(value) ? "none" : Math.abs(value) >= 1e4 ? value.toFixed(0) : String(Number(value.toPrecision(4)));

  function lines() {
    const values = {};
    data.levers.forEach((lever, k) => {
      if (touched(k)) for (const name of lever.name.split(" + ")) values[name] = `${sliders[k].value} mm`;
    });
    return data.lines
      .map(([name, before, after, own]) => before + (name === null ? "" : values[name] ?? own) + after)
      .join("\n");
  }

  function tell({ figures, bands, far }) {
    const touching = ["clearance_inner_mm", "clearance_outer_mm"].some((key) => !(figures[key] > 0));
    const moved = sliders.some((_, k) => touched(k));
    block.classList.toggle("impossible", touching || far);
    status.textContent =
      `Bl at rest ${digits(figures.bl_at_rest_Tm)} ± ${bands.bl_at_rest_Tm.toPrecision(2)} T m; ` +
      `usable stroke ${digits(figures.usable_stroke_mm)} mm; motor ${digits(figures.motor_mass_g)} g; ` +
      `cost ${digits(figures.total_cost)}. ` +
      (touching
        ? "The coil would touch the motor."
        : far
          ? "Far from the design that was solved: copy the lines below and solve again."
          : moved ? "Near enough to the design that was solved." : "As designed.");
    for (const row of block.querySelectorAll("tr[data-key]")) {
      const key = row.dataset.key, value = figures[key], before = state.design.figures[key];
      const share = (100 * (value - before)) / Math.abs(before), band = bands[key] ?? 0;
      const [now, change, spread] = ["live", "change", "remark"].map((c) => row.querySelector(`[data-cell=${c}]`));
      now.textContent = digits(value);
      spread.textContent = band > 0 && Number.isFinite(value) ? `± ${band.toPrecision(2)}` : "";
      change.textContent =
        Number.isFinite(share) && Math.abs(share) >= 0.05
          ? `${share > 0 ? "+" : "−"}${Math.abs(share).toFixed(1)} %`
          : "";
    }
  }

  function model(name) {
    const found = (window.Bokeh?.documents ?? []).map((d) => d.get_model_by_name(name));
    return found.find((m) => m !== null && m !== undefined) ?? null;
  }

  function draw({ x, bl, band, outlines }) {
    data.parts.forEach((part, k) => {
      const corners = outlines[part.name].map(([r, z]) => `${r.toFixed(4)},${(-z).toFixed(4)}`);
      drawn[k].setAttribute("d", `M${corners.join("L")}Z`);
    });
    const curve = model("dim-curve");
    if (curve === null) return;
    curve.data = {
      x: Array.from(x, (v) => v * 1e3), bl: [...bl], spread: [...band],
      low: Array.from(bl, (v, i) => v - band[i]), high: Array.from(bl, (v, i) => v + band[i]),
    };
  }

  function follow() {
    sliders.forEach((slider, k) => {
      const text = `${Number(slider.value).toFixed((data.levers[k].slider.step.split(".")[1] ?? "").length)} mm`;
      document.getElementById(`dim-${k}-value`).textContent = text;
      slider.setAttribute("aria-valuetext", text);
    });
    state.result = motorDimensions.evaluate(data, changes());
    document.getElementById("dim-lines").textContent = lines();
    tell(state.result);
    draw(state.result);
  }

  function reset() {
    sliders.forEach((slider, k) => (slider.value = data.levers[k].slider.value));
    follow();
  }

  for (const slider of sliders) slider.addEventListener("input", follow);
  document.getElementById("dim-reset").addEventListener("click", reset);
  reset();
  (function drawWhenReady() {
    if (model("dim-curve") === null) setTimeout(drawWhenReady, 50);
    else draw(state.result);
  })();
  return state;
})();
