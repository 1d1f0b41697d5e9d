/* Up to four designs side by side: sections to one scale, Bl(x), differences to the first. */
"use strict";

const motorCompare = (() => {
  const study = motorStudy, { columns, data } = study;
  const names = ["A", "B", "C", "D"];
  const control = (name) => document.getElementById(`compare-${name}`);
  const shortlist = new Map(data.shortlist.map((item) => [item.number, item]));
  const read = (text) => study.floats(text);
  const thin = (text) => new Float32Array(study.bytes(text));
  const SVG = "http://www.w3.org/2000/svg";

  function chosen() {
    return names.map((name) => [name, control(name).value])
      .filter(([, value]) => value !== "")
      .map(([name, value]) => ({ name, number: Number(value), item: shortlist.get(Number(value)) }));
  }

  function drawn(tag, attributes, text = "") {
    const made = document.createElementNS(SVG, tag);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    if (text) made.textContent = text;
    return made;
  }

  /* One frame for all, so that equal widths on the page mean one scale. */
  function sections(shown) {
    const points = shown.flatMap(({ item }) => item.parts.flatMap(([, , outline]) => outline));
    const right = Math.max(...points.map(([r]) => r));
    const low = Math.min(...points.map(([, z]) => z)), high = Math.max(...points.map(([, z]) => z));
    const pad = 0.06 * right, length = right > 60 ? 20 : 10;
    control("drawings").replaceChildren(...shown.map(({ name, number, item }) => {
      const width = right + 2 * pad, height = high - low + 2 * pad + 0.14 * right;
      const svg = drawn("svg", {
        viewBox: `0 0 ${width} ${height}`, role: "img",
        "aria-label": `Half section of ${study.name(number)}`, "data-design": number,
      });
      const line = { "stroke-width": 0.004 * right, stroke: "currentColor" };
      const at = ([r, z]) => `${(pad + r).toFixed(3)},${(pad + high - z).toFixed(3)}`;
      svg.append(drawn("line", {
        ...line, x1: pad, x2: pad, y1: 0, y2: high - low + 2 * pad,
        "stroke-dasharray": `${0.08 * right} ${0.02 * right} ${0.02 * right} ${0.02 * right}`,
      }));
      for (const [part, role, outline] of item.parts) {
        const shape = drawn("polygon", { ...line, points: outline.map(at).join(" "), fill: data.fills[role] });
        shape.append(drawn("title", {}, part));
        svg.append(shape);
      }
      const y = high - low + 2 * pad + 0.04 * right;
      svg.append(drawn("path", {
        ...line, fill: "none",
        d: `M${pad} ${y - 0.02 * right}v${0.04 * right}M${pad} ${y}h${length}M${pad + length} ${y - 0.02 * right}v${0.04 * right}`,
      }));
      svg.append(drawn("text", {
        x: pad + length + 0.03 * right, y: y + 0.025 * right, "font-size": 0.075 * right, fill: "currentColor",
      }, `${length} mm`));
      const figure = study.element("figure", "");
      const words = item.base || !item.words ? study.name(number) : `${study.name(number)}: ${item.words}`;
      figure.append(svg, study.element("figcaption", `${name}, ${words}`));
      return figure;
    }));
  }

  function curves(shown) {
    const least = Math.min(0, ...shown.flatMap(({ item }) => Array.from(read(item.bl))));
    study.model("compare-force").start = 1.05 * least;
    for (const name of names) {
      const found = shown.find((s) => s.name === name);
      if (!found) {
        study.fill(`compare-${name}`, { x: [], bl: [], low: [], high: [] });
        continue;
      }
      const bl = read(found.item.bl), spread = thin(found.item.spread);
      study.fill(`compare-${name}`, {
        x: read(found.item.x), bl, low: bl.map((v, k) => v - spread[k]), high: bl.map((v, k) => v + spread[k]),
      });
    }
  }

  const rounded = (percent) => (percent >= 100 ? percent.toFixed(0) : percent.toPrecision(2));

  function difference(column, number, first) {
    const [a, b] = [column.values[study.row(first)], column.values[study.row(number)]];
    if (column.text || !Number.isFinite(a) || !Number.isFinite(b) || number === first) return "";
    const step = b - a;
    if (Math.abs(step) <= 1e-9 * Math.max(Math.abs(a), Math.abs(b))) return "(same)";
    const sign = step > 0 ? "+" : "\u2212";
    const share = Math.abs(a) > 0 ? `, ${sign}${rounded(Math.abs((100 * step) / a))} %` : "";
    const size = Math.abs(step);
    const small = column.group === "varied" ? String(Number(size.toPrecision(4))) : study.digits(size, 3);
    return `(${sign}${small}${Math.abs(step / a) < 10 ? share : ""})`;
  }

  function table(shown) {
    const head = study.element("tr", "");
    head.append(study.element("th", "quantity", { scope: "col" }));
    head.append(study.element("th", "unit", { scope: "col" }));
    for (const { name, number } of shown) {
      head.append(study.element("th", `${name}: ${study.name(number)}`, { scope: "col", class: "number" }));
    }
    control("head").replaceChildren(head);
    const rows = [];
    for (const column of columns.values()) {
      if (column.group !== "varied" && column.group !== "result" && !column.key.endsWith("limited_by")) continue;
      const texts = shown.map(({ number }) => study.worded(column, number));
      if (shown.length > 1 && texts.every((text) => text === texts[0])) continue;
      const row = study.element("tr", "", { "data-key": column.key });
      row.append(study.element("th", column.what, { scope: "row" }), study.element("td", column.unit));
      shown.forEach(({ number }, k) => {
        const cell = study.element("td", texts[k], { class: "number" });
        const away = difference(column, number, shown[0].number);
        if (away) cell.append(" ", study.element("small", away));
        row.append(cell);
      });
      rows.push(row);
    }
    control("rows").replaceChildren(...rows);
  }

  function draw() {
    const shown = chosen();
    if (shown.length) sections(shown);
    else control("drawings").replaceChildren();
    curves(shown);
    table(shown);
  }

  function start() {
    if (!control("drawings")) return;
    for (const name of names) control(name).addEventListener("change", draw);
    draw();
  }

  return { start };
})();
