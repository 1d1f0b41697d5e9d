/* The distribution of a selected result of a tolerance study, its limits and causes. */
"use strict";

const motorSpread = (() => {
  const study = motorStudy, { columns, data } = study;
  const control = (name) => document.getElementById(`spread-${name}`);

  function cells(head, ...texts) {
    const row = study.element("tr", "");
    row.append(study.element("th", head, { scope: "row" }));
    for (const text of texts) row.append(study.element("td", text, { class: "number" }));
    return row;
  }

  function draw() {
    const key = control("result").value, column = columns.get(key);
    const figure = data.spread.figures[key], unit = column.unit ? ` ${column.unit}` : "";
    const top = 1.08 * Math.max(...figure.counts);
    study.fill("spread-bars", {
      left: figure.edges.slice(0, -1), right: figure.edges.slice(1), top: figure.counts,
    });
    const post = (values) => ({
      x: values, low: values.map(() => 0), high: values.map(() => top),
    });
    study.fill("spread-limits", post(figure.limits.filter((v) => v !== null)));
    study.fill("spread-tests", post((figure.tested ?? []).filter((v) => v !== null)));
    const middle = figure.percentiles.filter(([p]) => [2.5, 50, 97.5].includes(p)).map(([, v]) => v);
    study.fill("spread-percentiles", post(middle));
    study.axis("spread-figure", "below", study.label(column));
    const [low, high] = figure.limits.map((v) => (v === null ? null : study.digits(v) + unit));
    const limit = low && high ? `between ${low} and ${high}` : low ? `at least ${low}` : `at most ${high}`;
    const tests = (figure.tested ?? []).filter((v) => v !== null)
      .map((v) => study.digits(v) + unit).join(" and ");
    const what = column.what.replace(/^./, (c) => c.toUpperCase());
    control("words").textContent =
      `${what}: mean ${study.digits(figure.mean)}${unit}, standard deviation ` +
      `${study.digits(figure.deviation, 3)}${unit}, 95 % of the motors between ` +
      `${study.digits(figure.low)} and ${study.digits(figure.high)}${unit}.` +
      (figure.inside === null ? " No limit is given."
        : ` Limit ${limit}: ${(100 * figure.inside).toFixed(1)} % are inside.`) +
      (figure.tested ? ` The test limits are drawn in to ${tests}.` : "") +
      (figure.beside ? ` By derivatives: standard deviation ${study.digits(figure.beside.deviation, 3)}${unit}.` : "") +
      (figure.apart ? ` The two disagree: ${figure.apart}.` : "");
    control("caption").textContent = study.label(column);
    control("percentiles").replaceChildren(...figure.percentiles.map(([p, value]) => {
      const row = cells(`${p} %`, study.digits(value));
      row.firstChild.classList.add("number");
      return row;
    }));
    const words = new Map(data.spread.names);
    control("shares").replaceChildren(...figure.shares.map(([name, share]) => {
      const linear = figure.beside ? `${(100 * figure.beside.shares[name]).toFixed(1)} %` : "none";
      const row = cells(words.get(name) ?? name, `${(100 * share).toFixed(1)} %`, linear);
      const bar = study.element("td", "", { class: "bars" });
      const inner = study.element("span", "");
      inner.style.width = `${Math.min(100, 100 * share)}%`;
      bar.append(inner);
      row.append(bar);
      return row;
    }));
  }

  function start() {
    if (!control("result")) return;
    control("result").addEventListener("change", draw);
    draw();
  }

  return { start };
})();
