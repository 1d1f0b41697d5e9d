/* The coil that is dragged through the field: section, flux density along its path, Bl(x). */
"use strict";

(() => {
  const place = document.getElementById("moving-data");
  if (!place) return;
  const data = JSON.parse(place.textContent);
  const slider = document.getElementById("moving-x");
  const said = document.getElementById("moving-words");
  const coils = document.querySelectorAll(".moving-coil");
  const mark = document.querySelector(".moving-mark");
  const [section, curve] = ["moving-section", "moving-curve"].map((id) => document.getElementById(id));
  const [least, most] = data.stops_mm;
  const x = data.x_mm, low = x[0], high = x[x.length - 1];

  function between(values, at) {
    let k = 1;
    while (k < x.length - 1 && x[k] < at) k++;
    const share = (at - x[k - 1]) / (x[k] - x[k - 1]);
    return values[k - 1] + share * (values[k] - values[k - 1]);
  }

  function show(at) {
    const bl = between(data.bl, at), rest = between(data.bl, 0);
    for (const coil of coils) coil.setAttribute("transform", `translate(0 ${-at * data.pixels_per_mm})`);
    mark.setAttribute("cx", data.left + ((at - low) / (high - low)) * (data.right - data.left));
    mark.setAttribute("cy", data.bottom - (bl / data.bl_top) * (data.bottom - data.top));
    const inside = Math.abs(at) <= data.usable_mm;
    const stop = at <= least ? "at the inward stop" : at >= most ? "at the outward end" : "";
    const where = stop || (inside ? "inside the usable stroke" : "outside the usable stroke");
    said.textContent =
      `x = ${at >= 0 ? "+" : "\u2212"}${Math.abs(at).toFixed(2)} mm: Bl ${bl.toFixed(3)} T m, ` +
      `${((100 * bl) / rest).toFixed(1)} % of rest; mean flux density in the winding ` +
      `${between(data.field, at).toFixed(3)} T; ${where}`;
    said.classList.toggle("outside", !inside);
  }

  function move(at) {
    slider.value = Math.min(Math.max(at, least), most);
    show(Number(slider.value));
  }

  /* Millimetres of displacement that a pointer's movement in a drawing stands for. */
  function drag(drawing, millimetres) {
    drawing.addEventListener("pointerdown", (event) => {
      const start = { at: Number(slider.value), x: event.clientX, y: event.clientY };
      const wide = drawing.viewBox.baseVal.width / drawing.getBoundingClientRect().width;
      drawing.setPointerCapture(event.pointerId);
      const moved = (e) => move(start.at + millimetres((e.clientX - start.x) * wide, (e.clientY - start.y) * wide));
      const ended = () => {
        drawing.removeEventListener("pointermove", moved);
        drawing.removeEventListener("pointerup", ended);
        drawing.removeEventListener("pointercancel", ended);
      };
      drawing.addEventListener("pointermove", moved);
      drawing.addEventListener("pointerup", ended);
      drawing.addEventListener("pointercancel", ended);
      event.preventDefault();
    });
  }

  drag(section, (_, down) => -down / data.pixels_per_mm);
  drag(curve, (across) => (across / (data.right - data.left)) * (high - low));
  slider.addEventListener("input", () => show(Number(slider.value)));
  show(Number(slider.value));
})();
